//! What the page and the sealing worker say to each other: objects of `said` (`evenkeel_wire`) and, where there are
//! some, `bytes`.
//!
//! The worker lives for one question or a few and is ended then, because memory that a passphrase took is not given
//! back before. Seal takes seconds by passphrase; a Cancel is to end the worker.

pub use evenkeel_core::handover::{MAX_WORK_FACTOR, MAX_WORK_FACTOR_PHONE, WORK_FACTOR, is_sealed};
use serde::{Deserialize, Serialize};

/// A question; answered once, with the same id.
#[derive(Serialize, Deserialize)]
pub struct Call {
    /// Its number.
    pub id: u32,
    /// What is asked.
    pub ask: Ask,
}

/// What the worker can be asked.
#[derive(Serialize, Deserialize)]
pub enum Ask {
    /// A new pair of keys. Answer: [`Told::Keys`].
    NewKeys,
    /// The pair of a secret key. Answer: [`Told::Keys`].
    KeysOf {
        /// The secret key.
        secret: String,
    },
    /// What the sealed file beside it wants. Answer: [`Told::Wants`].
    Wants,
    /// Seal what is beside it by passphrase. Answer: [`Told::Bytes`].
    SealByPassphrase {
        /// The passphrase.
        passphrase: String,
    },
    /// Seal what is beside it for public keys. Answer: [`Told::Bytes`].
    SealByKeys {
        /// The keys.
        keys: Vec<String>,
    },
    /// Open the sealed file beside it. Answer: [`Told::Bytes`].
    OpenByPassphrase {
        /// The passphrase.
        passphrase: String,
        /// The highest work factor to be tried.
        most: u8,
    },
    /// Open the sealed file beside it. Answer: [`Told::Bytes`].
    OpenByKey {
        /// The secret key.
        secret: String,
    },
}

/// What the worker posts back.
#[derive(Serialize, Deserialize)]
pub struct Reply {
    /// Number of the question.
    pub id: u32,
    /// The answer.
    pub told: Told,
}

/// An answer.
#[derive(Serialize, Deserialize)]
pub enum Told {
    /// A pair of keys.
    Keys {
        /// Opens.
        secret: String,
        /// Seals.
        public: String,
    },
    /// What a sealed file wants.
    Wants {
        /// Work factor of its passphrase; none where it wants a key.
        work_factor: Option<u8>,
        /// Memory that opening takes beside the file, bytes.
        memory_bytes: u64,
    },
    /// They are beside it.
    Bytes,
    /// What is wrong and what to do, for the screen.
    Refused(String),
}
