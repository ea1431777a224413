//! ZIPs that are made to harm, or were harmed on the way, end in a refusal.

use std::io::Write;

use evenkeel_core::handover::{DayFile, MAX_ENTRIES, MAX_RATIO, MAX_UNPACKED};
use evenkeel_tests::odd::Odd;
use flate2::Compression;
use flate2::write::DeflateEncoder;

/// A file as it stands in a ZIP written by hand (APPNOTE 6.3, sections 4.3.7 and 4.3.12): what it claims need not
/// be true.
#[derive(Clone)]
struct Claimed {
    name: Vec<u8>,
    content: Vec<u8>,
    method: u16,
    crc: u32,
    unpacked: u32,
    /// Where its local header is said to be; none is the truth.
    at: Option<u32>,
}

fn deflated(name: &str, content: &[u8]) -> Claimed {
    let mut packed = DeflateEncoder::new(Vec::new(), Compression::best());
    packed.write_all(content).unwrap();
    let mut crc = flate2::Crc::new();
    crc.update(content);
    Claimed {
        name: name.into(),
        content: packed.finish().unwrap(),
        method: 8,
        crc: crc.sum(),
        unpacked: content.len() as u32,
        at: None,
    }
}

fn zip(files: &[Claimed]) -> Vec<u8> {
    let (mut bytes, mut directory) = (Vec::new(), Vec::new());
    for Claimed { name, content, method, crc, unpacked, at } in files {
        let start = at.unwrap_or(bytes.len() as u32);
        let mut common = Vec::new();
        common.extend([20, 0, 0, 0]);
        common.extend(method.to_le_bytes());
        common.extend([0; 4]);
        common.extend(crc.to_le_bytes());
        common.extend((content.len() as u32).to_le_bytes());
        common.extend(unpacked.to_le_bytes());
        common.extend((name.len() as u16).to_le_bytes());
        common.extend([0, 0]);
        if at.is_none() {
            bytes.extend(b"PK\x03\x04");
            bytes.extend(&common);
            bytes.extend(name);
            bytes.extend(content);
        }
        directory.extend(b"PK\x01\x02\x14\0");
        directory.extend(&common);
        directory.extend([0; 10]);
        directory.extend(start.to_le_bytes());
        directory.extend(name);
    }
    let (start, count) = (bytes.len() as u32, files.len() as u16);
    let length = directory.len() as u32;
    bytes.extend(directory);
    bytes.extend(b"PK\x05\x06\0\0\0\0");
    bytes.extend(count.to_le_bytes());
    bytes.extend(count.to_le_bytes());
    bytes.extend(length.to_le_bytes());
    bytes.extend(start.to_le_bytes());
    bytes.extend([0, 0]);
    bytes
}

#[track_caller]
fn refused(bytes: &[u8], because: &str) {
    let why = DayFile::read(bytes).expect_err("it must not be read").to_string();
    assert!(why.contains(because), "{why}");
    assert!(!why.contains(char::is_control), "{why:?}");
}

fn day_json() -> Vec<u8> {
    DayFile::default().manifest().to_json().unwrap()
}

#[test]
fn a_zip_written_by_hand_is_read_where_it_is_sound() {
    let file = zip(&[deflated("day.json", &day_json()), deflated("not ours.txt", b"kept out")]);
    assert_eq!(DayFile::read(&file).unwrap(), DayFile::default());
}

#[test]
fn a_bomb_is_refused_before_it_is_unpacked() {
    let zeros = vec![0; 80 << 20];
    let bomb = deflated("logs/0/time.f64", &zeros);
    assert!(zeros.len() as u64 > MAX_RATIO * bomb.content.len() as u64, "it is one");
    let day = deflated("day.json", &day_json());
    refused(&zip(&[day.clone(), bomb.clone()]), "more than its size allows");
    let huge = |n: usize| Claimed { name: format!("{n}").into(), unpacked: 1 << 30, ..bomb.clone() };
    refused(&zip(&[day.clone(), huge(1), huge(2)]), &format!("{} MB is the most", MAX_UNPACKED >> 20));
    // One that lies about its size stops one byte after it.
    let modest = Claimed { unpacked: 1000, ..deflated("day.json", &zeros[..1 << 20]) };
    refused(&zip(&[modest]), "day.json");
    let json = vec![b' '; 20 << 20];
    refused(&zip(&[deflated("day.json", &json)]), "longer than it may be");
}

#[test]
fn a_size_that_is_not_true_is_seen() {
    let day = deflated("day.json", &day_json());
    for unpacked in [0, 1, day.unpacked - 1, day.unpacked + 1, day.unpacked + 1000] {
        refused(&zip(&[Claimed { unpacked, ..day.clone() }]), "day.json");
    }
    refused(&zip(&[Claimed { crc: day.crc ^ 1, ..day.clone() }]), "damaged");
    refused(&zip(&[Claimed { method: 14, ..day.clone() }]), "packed in a way not known");
    refused(&zip(&[Claimed { at: Some(u32::MAX - 9), ..day }]), "damaged");
}

#[test]
fn files_in_one_another_or_of_one_name_are_refused() {
    let day = deflated("day.json", &day_json());
    let again = Claimed { name: "logs/0/time.f64".into(), at: Some(0), ..day.clone() };
    refused(&zip(&[day.clone(), again]), "lie in one another");
    // A file whose content is another file whole.
    let inner = zip(std::slice::from_ref(&day));
    let outer = Claimed { method: 0, unpacked: inner.len() as u32, content: inner, ..day.clone() };
    let header = 30 + day.name.len() as u32;
    let nested = Claimed { name: "b".into(), at: Some(header), ..day.clone() };
    refused(&zip(&[outer, nested]), "lie in one another");
    refused(&zip(&[day.clone(), day]), "two files of one name");
}

#[test]
fn thousands_of_files_are_refused() {
    let many: Vec<Claimed> = (0..=MAX_ENTRIES)
        .map(|n| Claimed {
            name: n.to_string().into(),
            content: Vec::new(),
            method: 0,
            crc: 0,
            unpacked: 0,
            at: None,
        })
        .collect();
    refused(&zip(&many), "more than");
}

#[test]
fn what_day_json_says_of_files_is_not_believed() {
    let odd = Odd::new(5).source();
    let source = evenkeel_core::Source { time_s: vec![1.0, 2.0], columns: Vec::new(), ..odd };
    let file = DayFile { sources: vec![std::sync::Arc::new(source)], ..DayFile::default() };
    let json = String::from_utf8(file.manifest().to_json().unwrap()).unwrap();
    let with = |json: &str, times: &[f64]| {
        let bytes: Vec<u8> = times.iter().flat_map(|t| t.to_le_bytes()).collect();
        zip(&[deflated("day.json", json.as_bytes()), deflated("logs/0/time.f64", &bytes)])
    };
    assert_eq!(DayFile::read(&with(&json, &[1.0, 2.0])).unwrap().sources.len(), 1);
    refused(&with(&json, &[2.0, 1.0]), "does not rise");
    refused(&with(&json, &[1.0, f64::NAN]), "does not rise");
    refused(&with(&json, &[1.0, f64::INFINITY]), "does not rise");
    refused(&with(&json, &[1.0, 2.0, 3.0]), "rows");
    refused(&with(&json.replace("logs/0/time.f64", "../../secret"), &[1.0, 2.0]), "no file ../../secret");
    refused(&with(&json.replace("logs/0/time.f64", "day.json"), &[1.0, 2.0]), "no file day.json");
}

/// Every byte of a small file changed, every length cut: a refusal, or a day that reads; never a panic.
#[test]
fn a_file_that_was_harmed_on_the_way_is_refused() {
    let mut odd = Odd::new(11);
    let day = std::iter::repeat_with(|| odd.day_file()).find(|day| !day.sources.is_empty()).unwrap();
    let whole = day.write().unwrap();
    for cut in 0..whole.len() {
        assert!(DayFile::read(&whole[..cut]).is_err(), "cut to {cut} of {}", whole.len());
    }
    let mut other = Odd::new(12);
    for place in 0..whole.len() {
        let mut harmed = whole.clone();
        harmed[place] ^= 1 << other.below(8);
        // Some bytes say nothing that counts, such as a date; samples are guarded by their sum.
        if let Ok(read) = DayFile::read(&harmed) {
            assert_eq!(read.write().unwrap(), whole, "byte {place} changed a day unnoticed");
        }
    }
}
