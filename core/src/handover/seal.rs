//! Sealed files: any bytes, in the open format age v1 (age-encryption.org/v1), by passphrase or key.
//!
//! This is the one part of the crate that is not deterministic: keys and salts are drawn from the system.

use std::io::{self, Read, Write};

use age::secrecy::{ExposeSecret, SecretString};
use age::{DecryptError, Decryptor, Encryptor, scrypt, x25519};

use super::Refused;

/// Work factor of passphrases that are written: 2^16 rounds of scrypt. A phone can do it in a second or two.
pub const WORK_FACTOR: u8 = 16;
/// Highest work factor that is opened, and the highest that a phone should be asked for.
pub const MAX_WORK_FACTOR: u8 = 19;
/// The highest that a phone should be asked for.
pub const MAX_WORK_FACTOR_PHONE: u8 = 17;
/// Longest header that is looked at, bytes: hundreds of recipients.
const MAX_HEADER: usize = 64 << 10;
const MARK: &[u8] = b"age-encryption.org/v1\n";

/// A key of one's own, and what others seal with for it.
#[derive(Clone, PartialEq, Eq)]
pub struct KeyPair {
    /// Opens; to be kept: `AGE-SECRET-KEY-1...`.
    pub secret: String,
    /// Seals; may be known to anybody: `age1...`.
    pub public: String,
}

/// What a file is sealed with.
#[derive(Clone, Copy)]
pub enum Lock<'a> {
    /// Whoever knows it can open the file.
    Passphrase(&'a str),
    /// The public keys of those who can.
    Keys(&'a [&'a str]),
}

/// What opens a sealed file.
#[derive(Clone, Copy)]
pub enum Opener<'a> {
    /// The passphrase, and the highest work factor to be tried.
    Passphrase(&'a str, u8),
    /// A secret key.
    Key(&'a str),
}

/// What a sealed file wants, as can be told before it is tried.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wants {
    /// A passphrase.
    Passphrase {
        /// Its work factor: 2^n rounds.
        work_factor: u8,
    },
    /// One of the keys that it was sealed for.
    Key,
}

impl Wants {
    /// Memory that opening takes, bytes, beside the file and what is in it: scrypt's table, 128 r N with r = 8
    /// (RFC 7914, section 2), and as much again, which a browser takes for it.
    pub fn memory_bytes(self) -> u64 {
        match self {
            Self::Passphrase { work_factor } => (2 * 128 * 8) << work_factor.min(40),
            Self::Key => 0,
        }
    }
}

impl KeyPair {
    /// A new one.
    pub fn generate() -> Self {
        let identity = x25519::Identity::generate();
        Self {
            secret: identity.to_string().expose_secret().to_owned(),
            public: identity.to_public().to_string(),
        }
    }

    /// What belongs to a secret key.
    ///
    /// # Errors
    /// Text that is no secret key.
    pub fn of(secret: &str) -> Result<Self, Refused> {
        let identity = identity(secret)?;
        Ok(Self {
            secret: identity.to_string().expose_secret().to_owned(),
            public: identity.to_public().to_string(),
        })
    }
}

/// Seals bytes.
///
/// # Errors
/// An empty passphrase, no key, a text that is no public key.
pub fn seal(bytes: &[u8], lock: Lock<'_>) -> Result<Vec<u8>, Refused> {
    let recipients: Vec<Box<dyn age::Recipient>> = match lock {
        Lock::Passphrase("") => return Err(Refused::because("there is no passphrase", "type one")),
        Lock::Passphrase(passphrase) => {
            let mut recipient = scrypt::Recipient::new(SecretString::from(passphrase.to_owned()));
            recipient.set_work_factor(WORK_FACTOR);
            vec![Box::new(recipient)]
        }
        Lock::Keys(keys) => {
            let recipient = |key: &&str| match key.trim().parse::<x25519::Recipient>() {
                Ok(recipient) => Ok(Box::new(recipient) as Box<dyn age::Recipient>),
                Err(why) => Err(Refused::because(
                    format!("{:?} is no public key ({why})", shown(key)),
                    "ask for the one that begins with age1",
                )),
            };
            keys.iter().map(recipient).collect::<Result<_, _>>()?
        }
    };
    let failed = |error: &dyn std::fmt::Display| {
        Refused::because(format!("the file cannot be sealed ({error})"), "choose a key or type a passphrase")
    };
    let encryptor =
        Encryptor::with_recipients(recipients.iter().map(AsRef::as_ref)).map_err(|e| failed(&e))?;
    let written = || -> io::Result<Vec<u8>> {
        let mut writer =
            encryptor.wrap_output(Vec::with_capacity(bytes.len() + bytes.len() / 2048 + 1024))?;
        writer.write_all(bytes)?;
        writer.finish()
    };
    written().map_err(|error| failed(&error))
}

/// Whether it begins as a sealed file does.
pub fn is_sealed(bytes: &[u8]) -> bool {
    bytes.starts_with(MARK)
}

/// What a sealed file wants.
///
/// # Errors
/// No sealed file, or one whose beginning is damaged.
pub fn wants(sealed: &[u8]) -> Result<Wants, Refused> {
    let rest = sealed.strip_prefix(MARK).ok_or_else(|| {
        Refused::because("this is no sealed file", "choose one in the format age v1, not as text")
    })?;
    let head = rest.get(..MAX_HEADER).unwrap_or(rest);
    let mut found = None;
    for line in head.split(|&byte| byte == b'\n') {
        if line.starts_with(b"---") {
            return found.ok_or_else(harmed);
        }
        let mut words =
            line.split(|&byte| byte == b' ').map(|word| std::str::from_utf8(word).unwrap_or_default());
        match (words.next(), words.next()) {
            (Some("->"), Some("scrypt")) => {
                let work_factor = words.nth(1).and_then(|digits| digits.parse().ok()).ok_or_else(harmed)?;
                found = Some(Wants::Passphrase { work_factor });
            }
            (Some("->"), _) => found = found.or(Some(Wants::Key)),
            _ => {}
        }
    }
    Err(harmed())
}

/// Opens a sealed file, whole or not at all.
///
/// # Errors
/// No sealed file, another key or passphrase, more work than allowed, a file that was cut off or altered.
pub fn open(sealed: &[u8], opener: Opener<'_>) -> Result<Vec<u8>, Refused> {
    let wanted = wants(sealed)?;
    let identity: Box<dyn age::Identity> = match (opener, wanted) {
        (Opener::Passphrase(passphrase, most), Wants::Passphrase { work_factor }) => {
            if work_factor > most.min(MAX_WORK_FACTOR) {
                let megabytes = wanted.memory_bytes() >> 20;
                return Err(Refused::because(
                    format!("opening this would take {megabytes} MB of memory (work factor {work_factor})"),
                    if work_factor > MAX_WORK_FACTOR {
                        "ask for it sealed with a key, or with less work"
                    } else {
                        "open it on a computer, or ask for it sealed with a key"
                    },
                ));
            }
            let mut identity = scrypt::Identity::new(SecretString::from(passphrase.to_owned()));
            identity.set_max_work_factor(most.min(MAX_WORK_FACTOR));
            Box::new(identity)
        }
        (Opener::Key(key), Wants::Key) => Box::new(identity(key)?),
        (Opener::Passphrase(..), Wants::Key) => {
            return Err(Refused::because(
                "this file was sealed with a key",
                "give the secret key it was sealed for",
            ));
        }
        (Opener::Key(_), Wants::Passphrase { .. }) => {
            return Err(Refused::because("this file was sealed with a passphrase", "type the passphrase"));
        }
    };
    let decryptor = Decryptor::new_buffered(sealed).map_err(|error| refused(&error, wanted))?;
    let mut reader =
        decryptor.decrypt(std::iter::once(identity.as_ref())).map_err(|e| refused(&e, wanted))?;
    let mut bytes = Vec::with_capacity(sealed.len());
    // Each piece is checked before it is handed out, and the last one says that it is: until then nothing counts.
    match reader.read_to_end(&mut bytes) {
        Ok(_) => Ok(bytes),
        Err(_) => Err(Refused::because("this sealed file was cut off or altered", "ask for it again")),
    }
}

fn identity(secret: &str) -> Result<x25519::Identity, Refused> {
    secret.trim().parse().map_err(|_| {
        Refused::because("this is no secret key", "give the one that begins with AGE-SECRET-KEY-1, whole")
    })
}

fn refused(error: &DecryptError, wanted: Wants) -> Refused {
    match (error, wanted) {
        (DecryptError::NoMatchingKeys, _) => {
            Refused::because("this file was sealed for another key", "give the key it was sealed for")
        }
        (DecryptError::DecryptionFailed | DecryptError::KeyDecryptionFailed, Wants::Passphrase { .. }) => {
            Refused::because("the passphrase does not open this file", "type it again; case and blanks count")
        }
        _ => harmed(),
    }
}

fn harmed() -> Refused {
    Refused::because("this sealed file was cut off or altered", "ask for it again")
}

/// The beginning of what was typed.
fn shown(text: &str) -> String {
    text.chars().take(20).collect()
}
