//! GPX tracks (GPX 1.1 schema) and NMEA 0183 sentences. All places are invented.

use super::*;
use crate::channel::Profile;
use crate::import::Format;
use crate::role::Role;

fn gpx(points: &str) -> String {
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<gpx version=\"1.1\" creator=\"test\" \
         xmlns=\"http://www.topografix.com/GPX/1/1\">\n<trk><name>a &amp; b</name><trkseg>\n{points}</trkseg></trk></gpx>\n"
    )
}

fn point(second: f64, lat: f64, lon: f64) -> String {
    format!(
        "<trkpt lat=\"{lat:.8}\" lon=\"{lon:.8}\"><ele>512.5</ele><time>2026-05-09T10:00:{second:06.3}Z</time></trkpt>\n"
    )
}

fn values(source: &Source, header: &str) -> Vec<f64> {
    let column = source.columns.iter().find(|column| column.header == header).unwrap();
    column.values.iter().map(|value| column.origin + f64::from(*value)).collect()
}

#[test]
fn a_gpx_track_becomes_a_source_with_roles() {
    let text =
        gpx(&(0..5).map(|k| point(f64::from(k) * 0.5, 46.0 + 1e-5 * f64::from(k), 7.5)).collect::<String>());
    let source = one(&text);
    assert_eq!(source.layout.format, Format::Gpx);
    assert_eq!(source.time_s, [0.0, 0.5, 1.0, 1.5, 2.0]);
    // `datetime.fromisoformat('2026-05-09T10:00:00Z').timestamp()` in Python.
    assert_eq!(source.epoch_unix_s, Some(1_778_320_800.0));
    let roles: Vec<Role> = Profile::guess(&source).channels.iter().map(|channel| channel.role).collect();
    assert_eq!(roles, [Role::Latitude, Role::Longitude, Role::Height, Role::GroundSpeed]);
    for (k, latitude) in values(&source, "latitude").into_iter().enumerate() {
        // A tenth of a millimetre.
        assert!((latitude - (46.0 + 1e-5 * k as f64)).abs() < 1e-9);
    }
    // 1e-5 degrees in half a second; 111.15 km a degree.
    for speed in values(&source, "GPS speed") {
        assert!((speed - 2.223).abs() < 0.002, "{speed}");
    }
    assert!((values(&source, "height")[3] - 512.5).abs() < 1e-4);
    for sizes in [&[1][..], &[7, 3], &[1000]] {
        assert_eq!(read_in_pieces(text.as_bytes(), sizes).unwrap()[0], source);
    }
}

#[test]
fn prefixes_extensions_zones_and_other_encodings() {
    let text = "\u{FEFF}<?xml version='1.0'?><g:gpx xmlns:g='http://www.topografix.com/GPX/1/1' xmlns:x='urn:x'>\
        <g:wpt lat='1' lon='2'/><g:rte><g:rtept lat='3' lon='4'/></g:rte><g:trk><g:trkseg>\
        <g:trkpt lon='7.5' lat=' 46.0 '><g:ele>1.5</g:ele><g:time> 2026-05-09T12:00:00.25+02:00 </g:time>\
        <g:extensions><x:ele>99</x:ele><x:time>1999-01-01T00:00:00Z</x:time></g:extensions></g:trkpt>\
        <g:trkpt lat='46.0001' lon='7.5'><g:time>2026-05-09T10:00:01.25Z</g:time></g:trkpt>\
        <g:trkpt lat='91' lon='7.5'><g:ele><![CDATA[2.5]]></g:ele><g:time>2026-05-09T10:00:02.25Z</g:time></g:trkpt>\
        </g:trkseg></g:trk></g:gpx>";
    let source = one(text);
    assert_eq!(source.time_s, [0.0, 1.0, 2.0]);
    let heights = values(&source, "height");
    assert!(heights[0] == 1.5 && heights[1].is_nan() && heights[2] == 2.5, "{heights:?}");
    assert!(values(&source, "latitude")[2].is_nan());
    let utf16: Vec<u8> = text.encode_utf16().flat_map(u16::to_le_bytes).collect();
    assert_eq!(one(utf16).time_s, source.time_s);
}

#[test]
fn segments_are_gaps_and_speed_does_not_leap_over_them() {
    let near = |k: i32| point(f64::from(k), 46.0 + 1e-5 * f64::from(k), 7.5);
    let far = |k: i32| point(f64::from(k), 46.1 + 1e-5 * f64::from(k), 7.5);
    let first: String = (0..6).map(near).collect();
    let second: String = (12..18).map(far).collect();
    let source = one(gpx(&format!("{first}</trkseg><trkseg>{second}")));
    assert_eq!(source.report.gaps, 1);
    assert!(values(&source, "GPS speed").iter().all(|&speed| (speed - 1.11).abs() < 0.01));
    assert!(warns(&source, "2 segments"));
}

#[test]
fn a_gpx_file_that_ends_early_keeps_its_points() {
    let whole = gpx(&(0..8).map(|k| point(f64::from(k), 46.0, 7.5)).collect::<String>());
    for end in ["<trkpt lat=\"46.0", "<ele>5", "</time></trkpt>\n"] {
        let cut = whole.rfind(end).unwrap() + end.len();
        let source = one(&whole[..cut]);
        assert!(source.report.rows >= 7 && warns(&source, "ends in the middle"), "{end}");
    }
}

#[test]
fn gpx_that_cannot_be_read_says_where() {
    let good = point(0.0, 46.0, 7.5) + &point(1.0, 46.0, 7.5);
    assert!(refusal(gpx(&format!("{good}</trk>"))).starts_with("log.csv:6:1: the XML is not well-formed"));
    assert!(refusal(gpx("")).contains("no track points"));
    assert!(refusal(gpx(&good.replace("time", "tyme"))).contains("no times"));
    let hostile =
        "<?xml version='1.0'?>\n<!DOCTYPE gpx [<!ENTITY a 'aaaa'><!ENTITY b '&a;&a;&a;'>]>\n<gpx></gpx>";
    assert!(refusal(hostile).starts_with("log.csv:2:1: the file declares entities of its own"));
    let deep = format!("<gpx>{}", "<a>".repeat(100_000));
    assert!(refusal(deep).starts_with("log.csv:1:195: elements are nested deeper than 64"));
    // An entity is no number, and is not expanded.
    let entity = gpx(&good.replacen("512.5", "&five;", 1));
    assert!(values(&one(entity), "height")[0].is_nan());
}

#[test]
fn a_gigantic_gpx_is_refused() {
    let mut reader = Reader::new("log.csv", sniff(gpx("").as_bytes(), "log.csv").unwrap()).unwrap();
    let block = vec![b' '; 16 << 20];
    let error = (0..17).find_map(|_| reader.feed(&block).err()).unwrap();
    assert!(error.to_string().contains("larger than 256 MiB"));
}

/// A sentence with its checksum by the standard's rule.
fn sentence(body: &str) -> String {
    format!("${body}*{:02X}\r\n", body.bytes().fold(0, |sum, byte| sum ^ byte))
}

/// The examples of RMC, GGA and VTG that texts on NMEA 0183 print, with their checksums (memory).
const PRINTED: &str = "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47\r\n\
    $GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A\r\n\
    $GPVTG,054.7,T,034.4,M,005.5,N,010.2,K*48\r\n";

#[test]
fn printed_sentences_are_read() {
    let text =
        PRINTED.to_owned() + &sentence("GPGGA,123520,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,");
    let source = one(&text);
    assert_eq!(source.layout.format, Format::Nmea);
    // `datetime(1994, 3, 23, 12, 35, 19, tzinfo=utc).timestamp()` in Python.
    assert_eq!(source.epoch_unix_s, Some(764_426_119.0));
    assert_eq!(source.time_s, [0.0, 1.0]);
    let first = |header| values(&source, header)[0];
    assert!((first("latitude") - (48.0 + 7.038 / 60.0)).abs() < 1e-9);
    assert!((first("longitude") - (11.0 + 31.0 / 60.0)).abs() < 1e-9);
    assert!((first("height") - 545.4).abs() < 1e-4);
    assert!((first("GPS speed") - 22.4 * 1852.0 / 3600.0).abs() < 1e-5);
    assert!((first("GPS course") - 84.4).abs() < 1e-5);
    let roles: Vec<Role> = Profile::guess(&source).channels.iter().map(|channel| channel.role).collect();
    let expected = [Role::Latitude, Role::Longitude, Role::Height, Role::GroundSpeed, Role::Course];
    assert_eq!(roles, expected);
    // Missing values are not equal to themselves; their words are.
    let pieces = read_in_pieces(text.as_bytes(), &[5, 11]).unwrap();
    assert_eq!(format!("{:?}", pieces[0]), format!("{source:?}"));
}

#[test]
fn damaged_foreign_and_void_sentences_are_dropped_and_counted() {
    let rmc = |s: u32, status: &str| {
        sentence(&format!("GNRMC,1235{s:02}.00,{status},4807.038,S,01131.000,W,022.4,084.4,090526,,,A"))
    };
    let mut text = String::from("$GPGSV,1,1,00*79\r\n");
    for s in 10..20 {
        text += &rmc(s, if s == 14 { "V" } else { "A" });
        text += &sentence("GNGSA,A,3,,,,,,,,,,,,,1,1,1");
    }
    text += &rmc(20, "A").replace("4807", "4907");
    text += "$GNRMC,1235";
    text += &rmc(21, "A");
    text += "$GNRMC,123522.00,A,48";
    let source = one(&text);
    assert_eq!(source.report.rows, 10);
    assert!(
        warns(&source, "line 22: 2 lines are dropped: the checksum is wrong or missing"),
        "{:?}",
        source.report
    );
    assert!(warns(&source, "line 10: 1 line is dropped: the receiver had no fix"));
    assert!(values(&source, "latitude")[0] < -48.0 && values(&source, "longitude")[0] < -11.0);
}

#[test]
fn midnight_and_dates_that_come_late() {
    let gga =
        |time: &str| sentence(&format!("GPGGA,{time},4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,"));
    let rmc = |time: &str, date: &str| {
        sentence(&format!("GPRMC,{time},A,4807.038,N,01131.000,E,022.4,084.4,{date},,"))
    };
    // Each second: position first, then the date, which starts only after midnight.
    let text = [
        gga("235958"),
        gga("235959"),
        gga("000000"),
        rmc("000000", "100526"),
        gga("000001"),
        rmc("000001", "100526"),
        gga("000002"),
    ];
    let source = one(text.concat());
    assert_eq!(source.time_s, [0.0, 1.0, 2.0, 3.0, 4.0]);
    // 2026-05-10T00:00:00Z is 1778371200.
    assert_eq!(source.epoch_unix_s, Some(1_778_371_198.0));
    // Without any date the clock is unwrapped all the same.
    let source = one([gga("235958"), gga("235959"), gga("000000"), gga("000001")].concat());
    assert_eq!((source.time_s[3] - source.time_s[0], source.epoch_unix_s), (3.0, None));
    assert!(warns(&source, "no RMC sentence tells the date"));
}

#[test]
fn speed_of_a_receiver_without_rmc_comes_from_vtg() {
    let second = |s: u32| {
        sentence(&format!("GPGGA,1200{s:02},4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,"))
            + &sentence("GPVTG,054.7,T,034.4,M,,N,036.0,K,A")
    };
    let source = one((0..4).map(second).collect::<String>());
    assert!(values(&source, "GPS speed").iter().all(|speed| (speed - 10.0).abs() < 1e-5));
}

#[test]
fn sentences_without_a_fix_say_so() {
    let text: String = (0..9).map(|s| sentence(&format!("GPRMC,12000{s},V,,,,,,,090526,,"))).collect();
    assert!(refusal(text).contains("no fix all through"));
    assert!(refusal(sentence("GPGSV,1,1,00").repeat(4)).contains("no RMC or GGA"));
}
