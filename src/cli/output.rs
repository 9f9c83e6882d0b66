//! Files that a command writes: never over one that it, or the daemon, has to read.

use anyhow::bail;
use std::os::unix::fs::MetadataExt;
use std::path::Path;

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
