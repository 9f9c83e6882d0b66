//! Secrets: read where the site file says they are, anew for each use, so that a changed one needs no restart.
//! None is ever printed.

use crate::site::settings::Secret;
use std::io;

/// Why there is none.
#[derive(Debug, thiserror::Error)]
pub(super) enum SecretTrouble {
    #[error("the password file {file} cannot be read: {cause}")]
    File { file: String, cause: io::Error },
    #[error("the password is due in the environment as {name}, which is not set or not text")]
    Variable { name: String },
}

pub(super) async fn read(secret: &Secret) -> Result<String, SecretTrouble> {
    match secret {
        Secret::File(file) => match tokio::fs::read_to_string(file).await {
            Ok(text) => Ok(text.trim_end_matches(['\r', '\n']).to_owned()),
            Err(cause) => Err(SecretTrouble::File {
                file: file.display().to_string(),
                cause,
            }),
        },
        Secret::Environment(name) => {
            std::env::var(name).map_err(|_| SecretTrouble::Variable { name: name.clone() })
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn a_password_file_loses_its_line_end_only() {
        let directory = tempfile::tempdir().expect("a temporary directory");
        let file = directory.path().join("mqtt.password");
        std::fs::write(&file, " two words \n").expect("writable");
        let text = read(&Secret::File(file)).await.expect("readable");
        assert_eq!(text, " two words ");
    }

    #[tokio::test]
    async fn a_password_that_is_not_there_is_told_by_its_place() {
        let file = read(&Secret::File("/nowhere/mqtt.password".into())).await;
        assert!(file.is_err_and(|trouble| trouble.to_string().contains("/nowhere/mqtt.password")));
        let variable = read(&Secret::Environment("STANDPIPE_NOT_SET".into())).await;
        assert!(variable.is_err_and(|trouble| trouble.to_string().contains("STANDPIPE_NOT_SET")));
    }
}
