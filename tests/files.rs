//! Files, disks and pipes that are not as they should be: a clear error, the documented status, never a
//! half-written result in the place of a good one, and no input touched.
#![cfg(unix)]

use std::fs;
use std::os::unix::fs::{PermissionsExt, symlink};
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

const SITE: &str = "examples/cannery.toml";

fn coldbasin(arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_coldbasin"));
    command.args(arguments).stdin(Stdio::null());
    command
}

fn run(arguments: &[&str]) -> Output {
    coldbasin(arguments).output().unwrap()
}

fn status(output: &Output) -> i32 {
    output.status.code().expect("no signal ended it")
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// A folder of its own for a test, empty.
fn folder(name: &str) -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    let _ = fs::remove_dir_all(&path);
    fs::create_dir_all(&path).unwrap();
    path
}

fn shown(path: &Path) -> &str {
    path.to_str().unwrap()
}

#[test]
fn a_full_disk_is_told() {
    let full = fs::File::create("/dev/full").unwrap();
    let output = coldbasin(&["balance", SITE]).stdout(full).output().unwrap();
    assert_eq!(status(&output), 1);
    assert!(said(&output).contains("standard output: No space left"), "{}", said(&output));
    let output = run(&["balance", SITE, "--output", "/dev/full"]);
    assert_eq!(status(&output), 1);
    assert!(said(&output).contains("/dev/full: No space left"), "{}", said(&output));
}

#[test]
fn a_reader_that_has_seen_enough_is_no_error() {
    for arguments in
        [&["balance", SITE][..], &["check", "examples/dairy.toml", "examples/dairy-log.csv"]]
    {
        let mut child =
            coldbasin(arguments).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        drop(child.stdout.take());
        let output = child.wait_with_output().unwrap();
        assert!([0, 3].contains(&status(&output)), "{}", said(&output));
        assert!(output.stderr.is_empty(), "{}", said(&output));
    }
}

#[test]
fn an_input_is_never_written_over() {
    let folder = folder("inputs");
    let site = folder.join("site.toml");
    fs::copy(SITE, &site).unwrap();
    let link = folder.join("link.toml");
    symlink(&site, &link).unwrap();
    for output in [&site, &link] {
        let output = run(&["balance", shown(&site), "--output", shown(output)]);
        assert_eq!(status(&output), 1);
        assert!(said(&output).contains("this is an input"), "{}", said(&output));
        assert_eq!(fs::read(&site).unwrap(), fs::read(SITE).unwrap());
    }
}

#[test]
fn a_good_result_is_replaced_whole_or_not_at_all() {
    let folder = folder("results");
    let result = folder.join("sheet.txt");
    fs::write(&result, "a good result\n").unwrap();
    let output =
        run(&["balance", SITE, "--set", "blowdown.cycles=0.5", "--output", shown(&result)]);
    assert_eq!(status(&output), 1);
    assert_eq!(fs::read_to_string(&result).unwrap(), "a good result\n");
    // A link stays one, and the file that it points to is replaced.
    let link = folder.join("link.txt");
    symlink(&result, &link).unwrap();
    assert_eq!(status(&run(&["balance", SITE, "--output", shown(&link)])), 0);
    assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
    assert!(fs::read_to_string(&result).unwrap().contains("makeup"));
    let names: Vec<_> = fs::read_dir(&folder).unwrap().map(|e| e.unwrap().file_name()).collect();
    assert_eq!(names.len(), 2, "{names:?}");
}

#[test]
fn what_is_no_file_is_told() {
    let folder = folder("none");
    for (arguments, says) in [
        (vec!["balance", shown(&folder)], "Is a directory"),
        (vec!["balance", SITE, "--output", shown(&folder)], "Is a directory"),
        (vec!["check", "examples/dairy.toml", shown(&folder)], "Is a directory"),
        (vec!["balance", SITE, "--output", "/nowhere/sheet.txt"], "No such file"),
        (vec!["balance", "/dev/null"], "missing table [blowdown]"),
    ] {
        let output = run(&arguments);
        assert_eq!(status(&output), 1, "{arguments:?}");
        assert!(said(&output).contains(says), "{arguments:?}: {}", said(&output));
    }
}

#[test]
fn a_file_that_may_not_be_read_is_told() {
    let folder = folder("forbidden");
    let site = folder.join("site.toml");
    fs::copy(SITE, &site).unwrap();
    fs::set_permissions(&site, fs::Permissions::from_mode(0o000)).unwrap();
    // Root may read anything.
    if fs::read(&site).is_err() {
        let output = run(&["balance", shown(&site)]);
        assert_eq!(status(&output), 1);
        assert!(said(&output).contains("Permission denied"), "{}", said(&output));
    }
}

#[test]
fn byte_order_marks_and_old_code_pages_are_read_or_told() {
    let folder = folder("texts");
    let text = fs::read_to_string(SITE).unwrap();
    let marked = folder.join("marked.toml");
    fs::write(&marked, format!("\u{feff}{text}")).unwrap();
    assert_eq!(status(&run(&["balance", shown(&marked)])), 0);
    // TOML is UTF-8; the line that is not says so.
    let latin = folder.join("latin.toml");
    let mut bytes = text.replace("coldbasin = 1", "coldbasin = 1\n# caf?").into_bytes();
    let mark = bytes.iter().position(|byte| *byte == b'?').unwrap();
    bytes[mark] = 0xe9;
    fs::write(&latin, bytes).unwrap();
    let output = run(&["balance", shown(&latin)]);
    assert_eq!(status(&output), 1);
    assert!(said(&output).contains("UTF-8"), "{}", said(&output));
}

/// The log is read to where it ends now; what is added later is for the next check.
#[test]
fn a_log_that_breaks_off_in_a_line_is_checked_to_there() {
    let folder = folder("logs");
    let log = folder.join("log.csv");
    let text = fs::read_to_string("examples/dairy-log.csv").unwrap();
    let cut = text.len() - 20;
    fs::write(&log, &text[..cut]).unwrap();
    let output = run(&["check", "examples/dairy.toml", shown(&log)]);
    assert_eq!(status(&output), 3, "{}", said(&output));
}

#[test]
fn a_huge_site_file_is_refused_or_read_but_never_kills() {
    let folder = folder("huge");
    let site = folder.join("site.toml");
    fs::write(&site, "# nothing\n".repeat(2_000_000)).unwrap();
    let output = run(&["balance", shown(&site)]);
    assert_eq!(status(&output), 1);
    assert!(!said(&output).is_empty());
}

#[test]
fn letters_that_a_picture_shows_as_boxes_are_told() {
    let folder = folder("letters");
    for (file, told) in
        [("letters.png", "letters.png: the built-in font has no shape for 塔"), ("letters.svg", "")]
    {
        let picture = folder.join(file);
        let output =
            run(&["balance", SITE, "--set", "name=\"塔 β\"", "--picture", shown(&picture)]);
        assert_eq!(status(&output), 0);
        assert!(said(&output).contains(told) && said(&output).is_empty() == told.is_empty());
        assert!(picture.exists());
    }
}
