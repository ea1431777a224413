//! Links: everything is in the part behind `#`, which browsers never send to a server.
//!
//! A fragment is `view=`, `extract=` or `sealed=`, then base64url (RFC 4648, section 5, no padding) of: the version, one
//! byte; the CRC-32 of what follows, four bytes, little-endian; and deflated: the length of the head (unsigned LEB128),
//! the head in JSON, and an extract's samples ([`Extract`] says how).

mod base64url;
mod extract;
mod pointer;
mod samples;
mod view;

use std::io::{Read, Write};

use flate2::bufread::DeflateDecoder;
use flate2::write::DeflateEncoder;
use flate2::{Compression, Crc};
use serde::Serialize;
use serde::de::DeserializeOwned;

use super::Refused;
pub use extract::{Extract, ExtractChannel, Stretch, quantum};
pub use pointer::Pointer;
pub(super) use samples::write_unsigned;
pub use view::View;

/// The version of what is written.
const VERSION: u8 = 1;
/// Longest fragment that is written or read, characters: what browsers alone pass on.
pub const MAX_FRAGMENT: usize = 32 * 1024;
/// Most that a fragment may inflate to, bytes.
pub const MAX_INFLATED: u64 = 512 * 1024;

/// What a link carries.
#[derive(Clone, Debug, PartialEq)]
pub enum Link {
    /// Where to look; whoever gets it has the log.
    View(View),
    /// A piece of a run.
    Extract(Extract),
    /// A sealed file and its key.
    Pointer(Pointer),
}

/// What a link of some length can be sent by.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Fits {
    /// Up to 2000 characters: any messenger.
    Messenger,
    /// Up to 8000: most mail.
    Mail,
    /// Up to 32 KiB: pasted into a browser's address line only.
    Browser,
    /// Nothing.
    Nowhere,
}

impl Fits {
    /// What a link of so many characters, address and all, can be sent by (common practice; there is no standard).
    pub fn of(characters: usize) -> Self {
        match characters {
            0..=2000 => Self::Messenger,
            2001..=8000 => Self::Mail,
            8001..=MAX_FRAGMENT => Self::Browser,
            _ => Self::Nowhere,
        }
    }

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Messenger => "fits any messenger",
            Self::Mail => "fits most mail",
            Self::Browser => "fits a browser's address line only",
            Self::Nowhere => "is too long for a link",
        }
    }
}

impl Link {
    /// The part of the link behind `#`; its length is the link's, less the address of the page.
    ///
    /// # Errors
    /// Longer than [`MAX_FRAGMENT`], a number that JSON cannot hold, or as [`Pointer::check`].
    pub fn fragment(&self) -> Result<String, Refused> {
        let packed = match self {
            Self::View(view) => pack(view, &[]),
            Self::Extract(extract) => {
                let (head, samples) = extract.quantised();
                pack(&head, &samples)
            }
            Self::Pointer(pointer) => {
                pointer.check()?;
                pack(pointer, &[])
            }
        };
        let mut fragment = self.kind().to_owned();
        base64url::encode(&packed?, &mut fragment);
        if fragment.len() > MAX_FRAGMENT {
            return Err(Refused::because(
                format!("the link would have {} characters, and {MAX_FRAGMENT} is the most", fragment.len()),
                "choose less time, fewer channels or a lower rate, or send a file",
            ));
        }
        // What cannot be read again, such as a cursor that is no number, must not be sent.
        Self::read_kind(self.kind(), &fragment).map(|_| fragment)
    }

    /// Reads what stands behind `#`; `None` where that is no link of ours.
    ///
    /// # Errors
    /// Damaged, cut off, longer than links are, or from a newer version.
    pub fn read(fragment: &str) -> Option<Result<Self, Refused>> {
        let fragment = fragment.strip_prefix('#').unwrap_or(fragment);
        let kind = ["view=", "extract=", "sealed="].into_iter().find(|kind| fragment.starts_with(kind))?;
        Some(Self::read_kind(kind, fragment))
    }

    fn read_kind(kind: &str, fragment: &str) -> Result<Self, Refused> {
        if fragment.len() > MAX_FRAGMENT {
            return Err(damaged("it is longer than any link"));
        }
        let text = fragment.get(kind.len()..).unwrap_or_default();
        let bytes = base64url::decode(text).ok_or_else(|| damaged("it holds characters that no link has"))?;
        let inflated = inflate(&bytes)?;
        let (head, samples) = split(&inflated).ok_or_else(|| damaged("its head is cut off"))?;
        match kind {
            "view=" => head_of(head).map(Self::View),
            "extract=" => Extract::read(head_of(head)?, samples).map(Self::Extract),
            _ => {
                let pointer: Pointer = head_of(head)?;
                pointer.check()?;
                Ok(Self::Pointer(pointer))
            }
        }
    }

    fn kind(&self) -> &'static str {
        match self {
            Self::View(_) => "view=",
            Self::Extract(_) => "extract=",
            Self::Pointer(_) => "sealed=",
        }
    }
}

fn damaged(how: &str) -> Refused {
    Refused::because(format!("this link is damaged: {how}"), "ask for it again, or for a file")
}

fn pack(head: &impl Serialize, samples: &[u8]) -> Result<Vec<u8>, Refused> {
    let failed = |error: &dyn std::fmt::Display| {
        Refused::because(format!("the link cannot be made ({error})"), "send a file")
    };
    let head = serde_json::to_vec(head).map_err(|error| failed(&error))?;
    let mut plain = Vec::new();
    samples::write_unsigned(head.len() as u64, &mut plain);
    plain.extend(head);
    plain.extend(samples);
    let mut deflated = DeflateEncoder::new(Vec::new(), Compression::best());
    let deflated =
        deflated.write_all(&plain).and_then(|()| deflated.finish()).map_err(|error| failed(&error))?;
    let mut packed = vec![VERSION];
    packed.extend(sum(&deflated));
    packed.extend(deflated);
    Ok(packed)
}

fn inflate(bytes: &[u8]) -> Result<Vec<u8>, Refused> {
    let (&version, rest) = bytes.split_first().ok_or_else(|| damaged("it is empty"))?;
    if version > VERSION {
        return Err(Refused::because(
            "this link is from a newer version",
            "reload the page, or ask for a file",
        ));
    }
    let (stated, deflated) = rest.split_first_chunk::<4>().ok_or_else(|| damaged("it is cut off"))?;
    if version != VERSION || sum(deflated) != *stated {
        return Err(damaged("it was altered or cut off"));
    }
    let mut inflated = Vec::new();
    let read = DeflateDecoder::new(deflated).take(MAX_INFLATED + 1).read_to_end(&mut inflated);
    read.map_err(|_| damaged("it cannot be unpacked"))?;
    if inflated.len() as u64 > MAX_INFLATED {
        return Err(damaged("it unpacks to more than any link holds"));
    }
    Ok(inflated)
}

fn split(inflated: &[u8]) -> Option<(&[u8], &[u8])> {
    let mut rest = inflated;
    let length = samples::read_unsigned(&mut rest)?;
    rest.split_at_checked(usize::try_from(length).ok()?)
}

fn head_of<T: DeserializeOwned>(head: &[u8]) -> Result<T, Refused> {
    serde_json::from_slice(head).map_err(|_| damaged("its head cannot be read"))
}

fn sum(bytes: &[u8]) -> [u8; 4] {
    let mut crc = Crc::new();
    crc.update(bytes);
    crc.sum().to_le_bytes()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_ours_is_left_alone_and_what_is_harmed_is_told() {
        for other in ["", "#", "ride", "#top", "View=AQ", "javascript:alert(1)"] {
            assert_eq!(Link::read(other), None, "{other}");
        }
        for harmed in [
            "view=",
            "#view=A",
            "view=AQ==",
            "extract=<script>",
            "sealed=AQAAAAA",
            "view=\u{e9}",
            "view=AgAAAAA",
        ] {
            assert!(Link::read(harmed).unwrap().is_err(), "{harmed}");
        }
        assert!(Link::read(&format!("view={}", "A".repeat(MAX_FRAGMENT))).unwrap().is_err());
    }

    #[test]
    fn links_already_sent_are_read() {
        // Written by version 1; it must stay readable.
        let version_1 = Link::View(View { day: "Wet".to_owned(), ..View::default() });
        assert_eq!(Link::read(VERSION_1).unwrap().unwrap(), version_1);
    }

    const VERSION_1: &str = "view=AVGDXezjrVZKSaxUslIKTy1RqgUA";

    #[test]
    fn a_small_bomb_does_not_go_off() {
        let zeros = pack(&View::default(), &vec![0; 2 * MAX_INFLATED as usize]).unwrap();
        let mut bomb = "extract=".to_owned();
        base64url::encode(&zeros, &mut bomb);
        assert!(bomb.len() < MAX_FRAGMENT);
        let why = Link::read(&bomb).unwrap().unwrap_err().to_string();
        assert!(why.contains("more than any link"), "{why}");
    }

    #[test]
    fn the_meter_knows_what_a_length_fits() {
        assert_eq!(Fits::of(2000), Fits::Messenger);
        assert_eq!([2001, 8000].map(Fits::of), [Fits::Mail; 2]);
        assert_eq!([8001, MAX_FRAGMENT].map(Fits::of), [Fits::Browser; 2]);
        assert_eq!(Fits::of(MAX_FRAGMENT + 1), Fits::Nowhere);
    }
}
