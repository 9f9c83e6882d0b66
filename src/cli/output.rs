//! Files that a command writes: never over one that it, or the daemon, has to read.

use anyhow::{Context, bail};
use std::fs::{File, OpenOptions};
use std::io::{self, Write};
use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};

/// A file that is emptied by the first that is written to it: what stood there stays until there is something to put
/// in its place.
#[derive(Debug)]
pub struct Output {
    path: PathBuf,
    file: File,
    is_new: bool,
    is_begun: bool,
}

impl Output {
    pub fn open(path: &Path) -> anyhow::Result<Self> {
        let is_new = !path.exists();
        let mut how = OpenOptions::new();
        let file = how.write(true).create(true).truncate(false).open(path);
        Ok(Self {
            file: file.with_context(|| format!("{} can't be written", path.display()))?,
            path: path.to_owned(),
            is_new,
            is_begun: false,
        })
    }

    fn begin(&mut self) -> io::Result<()> {
        self.is_begun = true;
        match self.file.metadata()?.is_file() {
            true => self.file.set_len(0),
            false => Ok(()),
        }
    }

    fn named(&self, error: &io::Error) -> io::Error {
        let what = format!("{}: {error}", self.path.display());
        io::Error::new(error.kind(), what)
    }
}

impl Write for Output {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        if !self.is_begun {
            self.begin().map_err(|error| self.named(&error))?;
        }
        let written = self.file.write(bytes);
        written.map_err(|error| self.named(&error))
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}

impl Drop for Output {
    fn drop(&mut self) {
        if self.is_new && !self.is_begun {
            // Nothing came: nothing is left behind. Where that fails an empty file is.
            let _ = std::fs::remove_file(&self.path);
        }
    }
}

/// Refuses a file to write that is one of those which are read or written already, by whatever name.
pub fn spares<'p>(path: &Path, others: impl IntoIterator<Item = &'p Path>) -> anyhow::Result<()> {
    let identity = |path: &Path| {
        let data = std::fs::metadata(path).ok()?;
        Some((data.dev(), data.ino()))
    };
    let Some(own) = identity(path) else {
        return Ok(());
    };
    for other in others {
        if identity(other) == Some(own) {
            bail!(
                "{} would be written over {}: give the output a name of its own",
                path.display(),
                other.display()
            );
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_stood_there_stays_until_something_is_written() {
        let folder = tempfile::tempdir().expect("a folder");
        let [old, new] = ["old.csv", "new.csv"].map(|name| folder.path().join(name));
        std::fs::write(&old, "an older recording").expect("written");
        let read = |path: &Path| std::fs::read_to_string(path).ok();
        drop(Output::open(&old).expect("open"));
        drop(Output::open(&new).expect("open"));
        assert_eq!(read(&old).as_deref(), Some("an older recording"));
        assert_eq!(read(&new), None);
        let mut output = Output::open(&old).expect("open");
        output.write_all(b"new").expect("written");
        drop(output);
        assert_eq!(read(&old).as_deref(), Some("new"));
        let refused = Output::open(&folder.path().join("none/new.csv")).expect_err("no folder");
        assert!(refused.to_string().contains("none/new.csv"), "{refused}");
    }

    #[test]
    fn a_file_is_spared_by_whatever_name() {
        let folder = tempfile::tempdir().expect("a folder");
        let [site, link, new] =
            ["site.toml", "link.csv", "new.csv"].map(|name| folder.path().join(name));
        std::fs::write(&site, "kept").expect("written");
        std::os::unix::fs::symlink(&site, &link).expect("linked");
        let refused = spares(&link, [site.as_path()]).expect_err("it is the same");
        assert!(refused.to_string().contains("name of its own"), "{refused}");
        assert!(spares(&new, [site.as_path()]).is_ok());
        assert!(spares(&site, [new.as_path()]).is_ok());
    }
}
