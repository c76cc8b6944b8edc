//! Files, disks and pipes that are not as they should be: a clear error, the documented status, never a
//! half-written result in the place of a good one, and no input touched.
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
        (vec!["balance", shown(&folder)], "this is a folder"),
        (vec!["balance", SITE, "--output", shown(&folder)], "this is a folder"),
        (vec!["check", "examples/dairy.toml", shown(&folder)], "this is a folder"),
        (vec!["balance", SITE, "--output", "/nowhere/sheet.txt"], "there is no such folder"),
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

/// A log of the dairy without a fault, a row every five minutes.
fn every_five_minutes(rows: usize) -> Vec<String> {
    let row = |row: usize| {
        let (day, hour, minute) = (1 + row / 288, row / 12 % 24, row % 12 * 5);
        let days = row as f64 / 288.0;
        let (makeup, blowdown) = (12_840.0 + 160.0 * days, 3_391.0 + 54.0 * days);
        format!(
            "2026-03-{day:02} {hour:02}:{minute:02},{makeup:.3},{blowdown:.3},540,1390,30,23,22,18,"
        )
    };
    (0..rows).map(row).collect()
}

fn log_of(path: &Path, rows: &[String], end: &str) {
    let header = "time,makeup m3,blowdown m3,makeup uS/cm,basin uS/cm,hot C,cold C,dry bulb C,wet bulb C,\
                  inhibitor drum mm";
    fs::write(path, [header, &rows.join(end), ""].join(end)).unwrap();
}

const DAIRY: &str = "examples/dairy.toml";

#[test]
fn a_log_with_its_newest_row_first_comes_to_the_same() {
    let folder = folder("newest");
    let log = folder.join("log.csv");
    let mut rows = every_five_minutes(8_000);
    log_of(&log, &rows, "\n");
    let expected = run(&["check", DAIRY, shown(&log), "--format", "csv"]);
    rows.reverse();
    log_of(&log, &rows, "\r\n");
    let turned = run(&["check", DAIRY, shown(&log), "--format", "csv"]);
    assert_eq!(status(&turned), status(&expected), "{}", said(&turned));
    assert_eq!(turned.stdout.split(|byte| *byte == b'\n').count(), 30);
    assert!(turned.stdout == expected.stdout && said(&turned).is_empty(), "{}", said(&turned));
    let text = run(&["check", DAIRY, shown(&log), "--full"]);
    let text = String::from_utf8_lossy(&text.stdout).into_owned();
    assert!(text.contains("The newest row stands first; the rows were turned round."), "{text}");
}

#[test]
fn rows_that_are_not_used_are_told_first_in_every_form() {
    let folder = folder("lost");
    let log = folder.join("log.csv");
    for end in ["\n", "\r\n", "\r"] {
        let mut rows = every_five_minutes(3_000);
        rows[100..300].iter_mut().for_each(|row| row.insert(0, 'x'));
        log_of(&log, &rows, end);
        let words = "200 of 3000 rows are not used, the first in line 102: \"x2026-03-01 08:20\" is no \
                     date and time";
        let text = run(&["check", DAIRY, shown(&log)]);
        let page = String::from_utf8_lossy(&text.stdout).replace('\n', " ");
        assert!(page.contains(&format!("ANSWER {words}. What follows")), "{page}");
        assert_eq!(status(&text), 0);
        assert_eq!(status(&run(&["check", DAIRY, shown(&log), "--strict"])), 3);
        let csv = run(&["check", DAIRY, shown(&log), "--format", "csv"]);
        assert!(said(&csv).contains(words), "{}", said(&csv));
        let json = run(&["check", DAIRY, shown(&log), "--format", "json"]);
        let json: serde_json::Value = serde_json::from_slice(&json.stdout).unwrap();
        assert_eq!(
            (json["rows_read"].as_u64(), json["rows_used"].as_u64()),
            (Some(3000), Some(2800))
        );
        assert_eq!(json["rows_not_used"], 200);
        assert_eq!(json["caution"], words);
    }
    // A few are listed, and no more said.
    let mut rows = every_five_minutes(3_000);
    rows[100] = "x".into();
    log_of(&log, &rows, "\n");
    let few = run(&["check", DAIRY, shown(&log), "--strict", "--full"]);
    let page = String::from_utf8_lossy(&few.stdout).into_owned();
    assert!(
        page.contains("line 102: no date and no reading") && page.contains("ANSWER\nToo short")
    );
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
#[cfg(feature = "png")]
fn letters_that_a_picture_shows_as_boxes_are_told() {
    for (file, told) in
        [("letters.png", "letters.png: the built-in font has no shape for 塔"), ("letters.svg", "")]
    {
        let (output, picture) = drawn_into(file);
        assert_eq!(status(&output), 0);
        assert!(said(&output).contains(told) && said(&output).is_empty() == told.is_empty());
        assert!(picture.exists());
    }
}

#[test]
#[cfg(not(feature = "png"))]
fn a_build_without_png_says_how_to_get_it() {
    let (output, picture) = drawn_into("letters.png");
    assert_eq!(status(&output), 2);
    assert!(said(&output).contains("--features png"), "{}", said(&output));
    assert!(!picture.exists());
}

/// The balance with a name beyond Latin, drawn into a file of a folder of its own.
fn drawn_into(file: &str) -> (std::process::Output, PathBuf) {
    let picture = folder("letters").join(file);
    let output = run(&["balance", SITE, "--set", "name=\"塔 β\"", "--picture", shown(&picture)]);
    (output, picture)
}

/// A site file in a folder of its own.
fn own_site(name: &str) -> (PathBuf, PathBuf) {
    let folder = folder(name);
    let site = folder.join("site.toml");
    fs::copy(SITE, &site).unwrap();
    (folder, site)
}

#[test]
fn an_input_is_safe_under_any_name() {
    let (folder, site) = own_site("any-name");
    let hard = folder.join("hard.toml");
    fs::hard_link(&site, &hard).unwrap();
    let spelt = folder.join("..").join("any-name").join("site.toml");
    for output in [&hard, &spelt] {
        let output = run(&["balance", shown(&site), "--output", shown(output)]);
        assert!(said(&output).contains("this is an input"), "{}", said(&output));
        assert_eq!(status(&output), 1);
    }
    let standard = fs::File::open(&site).unwrap();
    let mut command = coldbasin(&["balance", "-", "--output", shown(&site)]);
    let output = command.stdin(standard).output().unwrap();
    assert!(said(&output).contains("this is an input"), "{}", said(&output));
    assert_eq!(fs::read(&site).unwrap(), fs::read(SITE).unwrap());
}

#[test]
fn a_result_keeps_the_mode_of_what_it_replaces() {
    let folder = folder("modes");
    let result = folder.join("sheet.txt");
    for mode in [0o640, 0o604, 0o755] {
        fs::write(&result, "old").unwrap();
        fs::set_permissions(&result, fs::Permissions::from_mode(mode)).unwrap();
        assert_eq!(status(&run(&["balance", SITE, "--output", shown(&result)])), 0);
        assert_eq!(fs::metadata(&result).unwrap().permissions().mode() & 0o777, mode);
    }
    // A new one has what any new file has.
    let (new, plain) = (folder.join("new.txt"), folder.join("plain.txt"));
    fs::write(&plain, "").unwrap();
    assert_eq!(status(&run(&["balance", SITE, "--output", shown(&new)])), 0);
    let mode = |path: &Path| fs::metadata(path).unwrap().permissions().mode();
    assert_eq!(mode(&new), mode(&plain));
}

#[test]
fn two_results_are_two_files() {
    let folder = folder("twice");
    let (svg, html) = (folder.join("a.svg"), folder.join("a.html"));
    fs::write(&html, "").unwrap();
    symlink(&html, &svg).unwrap();
    let (picture, page) = (shown(&svg), shown(&html));
    for arguments in [
        vec!["balance", SITE, "--picture", picture, "--output", picture],
        vec!["balance", SITE, "--picture", picture, "--report", page],
    ] {
        let output = run(&arguments);
        assert_eq!(status(&output), 1);
        assert!(said(&output).contains("two results are written here"), "{}", said(&output));
    }
    let standard = fs::File::create(&html).unwrap();
    let output = coldbasin(&["balance", SITE, "--report", page]).stdout(standard).output().unwrap();
    assert!(said(&output).contains("two results are written here"), "{}", said(&output));
}

#[test]
fn standard_output_by_its_name_goes_where_the_shell_sends_it() {
    let folder = folder("standard");
    let path = folder.join("sheets.txt");
    fs::write(&path, "before\n").unwrap();
    let appended = fs::OpenOptions::new().append(true).open(&path).unwrap();
    let mut command = coldbasin(&["balance", SITE, "--output", "/dev/stdout"]);
    assert!(command.stdout(appended).status().unwrap().success());
    let text = fs::read_to_string(&path).unwrap();
    assert!(text.starts_with("before\n") && text.contains("WATER IN"), "{text}");
}

/// A run of many rows into a file is interrupted once its part file is there: neither stays.
#[test]
fn an_interrupted_run_leaves_nothing_behind() {
    for signal in ["INT", "TERM", "HUP"] {
        let folder = folder(&format!("signal-{signal}"));
        let result = folder.join("rows.csv");
        let rows =
            ["--vary", "blowdown.cycles=2 to 9", "--combine", "draws", "--rows", "400000000"];
        let mut arguments = vec!["whatif", SITE, "--format", "csv", "--output", shown(&result)];
        arguments.extend(rows);
        let mut child = coldbasin(&arguments).stderr(Stdio::null()).spawn().unwrap();
        while fs::read_dir(&folder).unwrap().next().is_none() {
            assert!(child.try_wait().unwrap().is_none(), "the run ended by itself");
            std::thread::sleep(std::time::Duration::from_millis(5));
        }
        let line = format!("kill -{signal} {}", child.id());
        assert!(Command::new("sh").args(["-c", &line]).status().unwrap().success());
        assert_eq!(child.wait().unwrap().code(), None, "it ends by the signal");
        assert_eq!(fs::read_dir(&folder).unwrap().count(), 0);
    }
}

#[test]
fn a_file_beyond_what_may_be_written_is_told() {
    let folder = folder("limited");
    let result = folder.join("page.html");
    let program = env!("CARGO_BIN_EXE_coldbasin");
    let line = format!("ulimit -f 1; exec {program} balance {SITE} --report {}", shown(&result));
    let output = Command::new("sh").args(["-c", &line]).output().unwrap();
    assert_eq!(status(&output), 1, "{}", said(&output));
    assert!(said(&output).contains("File too large"), "{}", said(&output));
    assert_eq!(fs::read_dir(&folder).unwrap().count(), 0);
}

#[test]
fn a_starter_file_is_never_written_over() {
    let (_, site) = own_site("starter");
    let output = run(&["init", shown(&site)]);
    assert_eq!(status(&output), 1);
    assert!(said(&output).contains("left alone"), "{}", said(&output));
    assert_eq!(fs::read(&site).unwrap(), fs::read(SITE).unwrap());
}

#[test]
fn files_of_other_kinds_are_named() {
    let folder = folder("kinds");
    let utf16: Vec<u8> =
        fs::read_to_string(SITE).unwrap().encode_utf16().flat_map(u16::to_le_bytes).collect();
    for (start, kind) in [
        (&utf16[..], "text in UTF-16"),
        (b"\xff\xfec\0o\0", "text in UTF-16"),
        (b"PK\x03\x04 and so on", "a spreadsheet's own file"),
        (b"\xd0\xcf\x11\xe0\xa1", "a spreadsheet's own file"),
        (b"%PDF-1.7", "a PDF"),
    ] {
        let path = folder.join("file");
        fs::write(&path, start).unwrap();
        for arguments in [&["balance", shown(&path)][..], &["check", DAIRY, shown(&path)]] {
            let output = run(arguments);
            assert_eq!(status(&output), 1);
            assert!(said(&output).contains(kind), "{kind}: {}", said(&output));
        }
    }
}

#[test]
fn a_name_is_no_formula_in_a_table() {
    let set = ["--set", "name=\"=1+1\"", "--format", "csv"];
    let runs: [&[&str]; 2] = [
        &["balance", SITE],
        &["whatif", SITE, "--case", "=2+2: blowdown.cycles=4", "--columns", "makeup"],
    ];
    for run_of in runs {
        let output = run(&[run_of, &set].concat());
        let table = String::from_utf8(output.stdout).unwrap();
        assert!(table.contains(",'=1+1,") && !table.contains(",="), "{table}");
    }
}
