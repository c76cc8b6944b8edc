//! Files written whole: the new one takes the place of the old one at once, or not at all.
//!
//! A result is made in a file beside its place, under a name of its own, and renamed when it is whole. What is
//! replaced hands on its mode and its owner. An interrupted run leaves nothing beside the place.

use super::interrupted::Unfinished;
use same_file::Handle;
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// Makes the content of a file.
pub type Make<'a> = &'a mut dyn FnMut(&mut dyn Write) -> io::Result<()>;

/// Whether two paths are one file, or would be once both are written: another spelling, a link, a hard link.
pub fn is_one_file(a: &Path, b: &Path) -> bool {
    match same_file::is_same_file(a, b) {
        Ok(is_same) => is_same,
        // One of them is not there yet: its folder is.
        Err(_) => a == b || place(a).is_some_and(|of_a| Some(of_a) == place(b)),
    }
}

/// Whether a path is the file, the pipe or the terminal that standard output goes to.
pub fn is_standard_output(path: &Path) -> bool {
    is_handle(path, Handle::stdout())
}

/// Whether a path is what standard input is read from.
pub fn is_standard_input(path: &Path) -> bool {
    is_handle(path, Handle::stdin())
}

fn is_handle(path: &Path, handle: io::Result<Handle>) -> bool {
    matches!((Handle::from_path(path), handle), (Ok(path), Ok(handle)) if path == handle)
}

/// The folder in its one spelling, and the name in it.
fn place(path: &Path) -> Option<(PathBuf, &std::ffi::OsStr)> {
    Some((folder(path).canonicalize().ok()?, path.file_name()?))
}

fn folder(path: &Path) -> &Path {
    path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// Writes a file in the place of another, or where there is none.
pub fn replace(path: &Path, make: Make<'_>) -> io::Result<()> {
    // A link stays a link: the file that it points to is replaced.
    let target = fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf());
    let old = fs::metadata(&target).ok();
    let made = made_beside(&target, make)?;
    let kept = old.map_or(Ok(()), |old| keep_owner(made.file.as_file(), &old));
    match kept {
        Ok(()) => made.file.persist(&target).map(drop).map_err(|failed| failed.error),
        // The owner of another's file cannot be handed on: what is whole by now goes into it.
        Err(_) => fs::copy(made.file.path(), &target).map(drop),
    }
}

/// Writes a file where there is none.
///
/// # Errors
/// [`io::ErrorKind::AlreadyExists`] where there is one, which is left alone.
pub fn create(path: &Path, make: Make<'_>) -> io::Result<()> {
    let made = made_beside(path, make)?;
    made.file.persist_noclobber(path).map(drop).map_err(|failed| failed.error)
}

/// A whole file beside its place; removed unless it is put there.
struct Made {
    file: NamedTempFile,
    _unfinished: Unfinished,
}

fn made_beside(path: &Path, make: Make<'_>) -> io::Result<Made> {
    let mut prefix = path.file_name().unwrap_or_default().to_os_string();
    prefix.push(".");
    let mut builder = tempfile::Builder::new();
    builder.prefix(&prefix).suffix(".part");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // As any new file: what the user's mask leaves of it.
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    let file = builder.tempfile_in(folder(path)).map_err(plain)?;
    let mut made = Made { _unfinished: Unfinished::new(file.path()), file };
    make(made.file.as_file_mut())?;
    made.file.as_file().sync_all()?;
    Ok(made)
}

/// What the system says, without the name of a part file that nobody knows.
fn plain(error: io::Error) -> io::Error {
    let inner = error.get_ref().and_then(|outer| outer.source()?.downcast_ref::<io::Error>());
    match inner.and_then(io::Error::raw_os_error) {
        Some(code) => io::Error::from_raw_os_error(code),
        None => error,
    }
}

/// Gives a file the mode and the owner of the one that it replaces.
#[cfg(unix)]
fn keep_owner(file: &File, old: &fs::Metadata) -> io::Result<()> {
    use std::os::unix::fs::{MetadataExt, fchown};
    let new = file.metadata()?;
    if (new.uid(), new.gid()) != (old.uid(), old.gid()) {
        fchown(file, Some(old.uid()), Some(old.gid()))?;
    }
    file.set_permissions(old.permissions())
}

#[cfg(not(unix))]
fn keep_owner(file: &File, old: &fs::Metadata) -> io::Result<()> {
    file.set_permissions(old.permissions())
}
