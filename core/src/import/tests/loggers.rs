//! The habits of many loggers.

use std::fmt::Write;

use super::*;
use crate::import::{Encoding, TimeBase, guess_channels};
use crate::role::{Axis, End, Place, Role};
use crate::unit::Unit;

#[test]
fn semicolons_with_decimal_commas() {
    let source = one(
        "Zeit [s];Gabel [mm];Druck vorne [bar]\r\n0,000;12,5;0,1\r\n0,002;1.013,25;\r\n0,004;13,5;-1,5E-1\r\n",
    );
    assert_eq!((source.layout.delimiter, source.layout.decimal), (';', ','));
    assert_eq!(source.time_s, [0.0, 0.002, 0.004]);
    assert_eq!(column(&source, "Gabel"), [12.5, 1013.25, 13.5]);
    assert_eq!(column(&source, "Druck vorne")[2], -0.15);
    assert!(column(&source, "Druck vorne")[1].is_nan());
    assert_eq!(source.report.rate_hz.round(), 500.0);
    let guesses = guess_channels(&source.layout);
    assert_eq!(
        guesses[1..],
        [(Role::Travel(End::Front), Unit::Millimetre), (Role::Brake(End::Front), Unit::Bar)]
    );
}

#[test]
fn quoted_headers_with_units_in_brackets_and_scientific_values() {
    let mut text =
        String::from("\"Time (s)\",\"Acceleration x (m/s^2)\",\"Absolute \"\"a\"\", all (m/s^2)\"\n");
    text += "4.192888737E-2,-1.5E0,9.81\n5.192888737E-2,2.5e+1,9.82\n\"6.192888737E-2\",\"3\",9.83\n";
    let source = one(text);
    assert_eq!(source.layout.headers, ["Time", "Acceleration x", "Absolute \"a\", all"]);
    assert_eq!(source.time_s[0], 0.041_928_887_37);
    assert_eq!(column(&source, "Acceleration x"), [-1.5, 25.0, 3.0]);
    assert_eq!(units(&source), ["m/s^2", "m/s^2"]);
    assert_eq!(guess_channels(&source.layout)[1].0, Role::Accel(Place::Frame, Axis::X));
}

#[test]
fn irregular_milliseconds_beside_positions() {
    let mut text = String::from("millis,lat,lng,alt,speed\n0,0,0,0,0\n");
    let (mut ms, mut rows) = (0, 1);
    for i in 0..60_u32 {
        ms += if i == 40 { 61_000 } else { 400 + i * 37 % 101 };
        rows += 1;
        writeln!(text, "{ms},47.{:07},-11.{:07},{},8.5", 1_234_567 + i * 11, 7_654_321 + i, 900 - i).unwrap();
    }
    let source = one(text);
    assert_eq!(source.layout.time, TimeBase::Number { column: 0, unit: Unit::Millisecond });
    assert_eq!(
        (source.report.rows, source.report.dropped, source.report.gaps),
        (rows, 0, 1),
        "{:?}",
        source.report
    );
    assert!((2.0..2.5).contains(&source.report.rate_hz) && source.report.jitter_s < 0.051);
    let latitude = &source.columns[0];
    // To a millimetre, 1e-8 degrees, although a plain f32 has steps of 4e-6.
    assert_eq!(latitude.origin, 47.123_456_7);
    assert!((latitude.origin + f64::from(latitude.values[10]) - 47.123_466_6).abs() < 1e-8);
    assert!((latitude.origin + f64::from(latitude.values[0])).abs() < 1e-5);
    let roles: Vec<Role> = guess_channels(&source.layout).into_iter().map(|(role, _)| role).collect();
    assert_eq!(roles, [Role::Unused, Role::Latitude, Role::Longitude, Role::Height, Role::GroundSpeed]);
}

#[test]
fn inertial_data_at_100_hz() {
    let mut text = String::from("t_s\tGyro X (deg/s)\tAcc Z (g)\tMag Y (uT)\n");
    (0..200).for_each(|i| writeln!(text, "{}.{:02}\t{}\t1.0\t-22.5", i / 100, i % 100, i).unwrap());
    let source = one(text);
    assert_eq!(source.layout.delimiter, '\t');
    assert_eq!(units(&source), ["deg/s", "g", "uT"]);
    assert!((source.report.rate_hz - 100.0).abs() < 1e-6);
    let guesses = guess_channels(&source.layout);
    assert_eq!(guesses[1], (Role::Gyro(Place::Frame, Axis::X), Unit::DegreePerSecond));
    assert_eq!(guesses[2], (Role::Accel(Place::Frame, Axis::Z), Unit::Gravity));
    assert_eq!(guesses[3], (Role::Magnet(Place::Frame, Axis::Y), Unit::Microtesla));
}

#[test]
fn encodings_give_the_same_numbers() {
    let text = "Zeit;Höhe [m];Gabel [mm]\r\n00:00:00,00;5,5;1\r\n00:00:00,01;6,5;2\r\n00:00:00,02;7,5;3\r\n";
    let utf16 = |bytes: fn(u16) -> [u8; 2]| text.encode_utf16().flat_map(bytes).collect::<Vec<u8>>();
    let latin1 = || text.chars().map(|c| c as u8).collect::<Vec<u8>>();
    for (bytes, encoding) in [
        (text.as_bytes().to_vec(), Encoding::Utf8),
        ([b"\xEF\xBB\xBF", text.as_bytes()].concat(), Encoding::Utf8),
        ([b"\xFF\xFE".to_vec(), utf16(u16::to_le_bytes)].concat(), Encoding::Utf16Le),
        ([b"\xFE\xFF".to_vec(), utf16(u16::to_be_bytes)].concat(), Encoding::Utf16Be),
        (utf16(u16::to_le_bytes), Encoding::Utf16Le),
        (latin1(), Encoding::Latin1),
    ] {
        let source = one(&bytes);
        assert_eq!(source.layout.encoding, encoding);
        assert_eq!(source.time_s, [0.0, 0.01, 0.02]);
        assert_eq!(column(&source, "Höhe"), [5.5, 6.5, 7.5]);
        assert_eq!(read_in_pieces(&bytes, &[1]), Ok(vec![source]));
    }
}

#[test]
fn comments_metadata_and_two_header_rows() {
    let source = one(
        "# logger firmware 3\nRun;7\nBike length;1250;mm\n\nTime;Fork;Shock\n[ms];[mm];[mm]\n0;1,5;2\n# bump\n10;2,5;3\n20;3,5;4\n",
    );
    assert_eq!(source.layout.skip_lines, 6);
    assert_eq!(source.layout.headers, ["Time", "Fork", "Shock"]);
    assert_eq!(source.layout.units, ["ms", "mm", "mm"]);
    assert_eq!(source.time_s, [0.0, 0.01, 0.02]);

    let source = one(
        "Time,Front,,Rear,\ns,Travel [mm],Brake [bar],Travel [mm],Brake [bar]\n0,1,2,3,4\n0.1,1,2,3,4\n0.2,1,2,3,4\n",
    );
    assert_eq!(source.layout.headers[1..], ["Front Travel", "Front Brake", "Rear Travel", "Rear Brake"]);

    let source = one("# time_s, fork_mm\n0, 1\n0.5, 2\n1, 3\n");
    assert_eq!((source.layout.headers.join("|"), source.layout.skip_lines), ("time|fork".to_owned(), 1));
}

#[test]
fn a_first_row_with_an_unreadable_cell_is_a_row_and_metadata_is_not() {
    let source = one("t_s,a,b,c\n0,1,2,x\n1,1,2,3\n2,1,2,3\n3,1,2,3\n");
    assert_eq!((source.report.rows, source.layout.skip_lines), (4, 1));
    let source = one("Bike,1250,63\nt_s,a,b\n0,1,2\n1,1,2\n2,1,2\n");
    assert_eq!((source.report.rows, source.layout.headers.join(" ")), (3, "t a b".to_owned()));
}

#[test]
fn columns_aligned_by_blanks_and_no_header_at_all() {
    let source = one("  0.00   1.5  -2\n  0.25  10.5   3\n  0.50   2.5   4\n  0.75   2.5   4\n");
    assert_eq!((source.layout.delimiter, source.layout.skip_lines), (' ', 0));
    assert_eq!(source.layout.headers, ["column 1", "column 2", "column 3"]);
    assert_eq!(source.time_s, [0.0, 0.25, 0.5, 0.75]);
    assert_eq!(column(&source, "column 3"), [-2.0, 3.0, 4.0, 4.0]);

    let source = one("Time (s)  Front travel (mm)\n  0.00   1.5\n  0.25  10.5\n  0.50   2.5\n");
    assert_eq!(source.layout.headers, ["Time", "Front travel"]);
}

#[test]
fn slower_channels_and_missing_words() {
    let source = one("t_s|a|b\n0|1|2\n0.1||NaN\n0.2|-|n/a\n0.3|4|\n0.4|5\n");
    let missing = |values: &[f32]| values.iter().map(|value| value.is_nan()).collect::<Vec<_>>();
    assert_eq!(missing(column(&source, "a")), [false, true, true, false, false]);
    assert_eq!(missing(column(&source, "b")), [false, true, true, true, true]);
    assert!(warns(&source, "line 6: 1 row with fewer cells"), "{:?}", source.report);
}

#[test]
fn times_of_every_kind() {
    let three = |a: &str, b: &str, c: &str| one(format!("time,x\n{a},1\n{b},2\n{c},3\n"));
    for (stamps, epoch) in [
        (
            ["2026-05-03T14:00:00.00Z", "2026-05-03T14:00:00.50Z", "2026-05-03T14:00:01.00Z"],
            Some(1_777_816_800.0),
        ),
        (
            ["2026-05-03 16:00:00.00+02:00", "2026-05-03 16:00:00.50+02:00", "2026-05-03 16:00:01.00+02:00"],
            Some(1_777_816_800.0),
        ),
        (["1777816800000", "1777816800500", "1777816801000"], Some(1_777_816_800.0)),
        (["1777816800.0", "1777816800.5", "1777816801.0"], Some(1_777_816_800.0)),
        (["1777816800000000", "1777816800500000", "1777816801000000"], Some(1_777_816_800.0)),
        (["0:00.0", "0:00.5", "0:01.0"], None),
        (["0:00:00.0", "0:00:00.5", "0:00:01.0"], None),
        (["0", "500", "1000"], None),
    ] {
        let source = three(stamps[0], stamps[1], stamps[2]);
        assert_eq!(source.time_s, [0.0, 0.5, 1.0], "{stamps:?}");
        assert_eq!(source.epoch_unix_s, epoch, "{stamps:?}");
    }
    assert_eq!(three("14:00:00", "14:00:00.5", "14:00:01").time_s[0], 50_400.0);
}

#[test]
fn midnight_and_counters_are_unwrapped_and_told() {
    let source = one("Uhrzeit,x\n23:59:59.8,1\n23:59:59.9,2\n00:00:00.0,3\n00:00:00.1,4\n00:00:00.2,5\n");
    assert!(
        source.time_s.windows(2).all(|pair| (pair[1] - pair[0] - 0.1).abs() < 1e-6),
        "{:?}",
        source.time_s
    );
    assert!(warns(&source, "line 4: the clock passes midnight"));

    for (unit, bits, step) in [("ms", 16, 10_u64), ("ms", 32, 10), ("us", 32, 1000), ("us", 16, 1000)] {
        let mut text = format!("t_{unit},x\n");
        let start = (1 << bits) - 50 * step;
        (0..100).for_each(|i| writeln!(text, "{},{i}", (start + i * step) % (1 << bits)).unwrap());
        let source = one(text);
        assert_eq!((source.report.rows, source.report.dropped), (100, 0), "{unit} {bits}");
        assert!(source.time_s.windows(2).all(|pair| pair[1] > pair[0]));
        assert!(warns(&source, "rolls over"), "{unit} {bits}");
    }
}

#[test]
fn a_restarted_logger_gives_two_parts() {
    let mut text = String::from("time_s,x\n");
    (100..300).for_each(|i| writeln!(text, "{}.{:02},{i}", i / 100, i % 100).unwrap());
    text += "time_s,x\n";
    (0..150).for_each(|i| writeln!(text, "{}.{:02},{i}", i / 100, i % 100).unwrap());
    let parts = read("log.csv", text.as_bytes()).unwrap().parts;
    assert_eq!(parts.iter().map(|part| part.report.rows).collect::<Vec<_>>(), [200, 150]);
    assert_eq!(parts[1].name, "log.csv (part 2)");
    assert!(warns(&parts[1], "line 203: the time goes back by 2.990 s"), "{:?}", parts[1].report.warnings);
    assert_eq!(column(&parts[1], "x")[..2], [0.0, 1.0]);
    // The repeated header is one dropped row of the first part.
    assert_eq!((parts[0].report.dropped, parts[1].report.dropped), (1, 0));
}

#[test]
fn a_rate_where_there_is_no_time() {
    let bytes = b"sample,fork\n0,1\n1,2\n3,3\n4,3\n";
    let mut layout = sniff(bytes, "log.csv").unwrap();
    assert_eq!(layout.time, TimeBase::Unknown);
    assert!(refusal(bytes).contains("type the rate in Hz"));
    layout.set_rate(200.0);
    let mut reader = Reader::new("log.csv", layout).unwrap();
    reader.feed(bytes).unwrap();
    let source = reader.finish().unwrap().parts.remove(0);
    assert_eq!(source.time_s, [0.0, 0.005, 0.015, 0.02]);
    assert_eq!(source.columns.len(), 1);

    let source = one("Sample rate: 500 Hz\nfork,shock\n1,2\n1,3\n2,3\n");
    assert_eq!(source.layout.time, TimeBase::Rate { rate_hz: 500.0 });
    assert_eq!(source.time_s, [0.0, 0.002, 0.004]);
}

#[test]
fn a_layout_survives_json_and_a_correction() {
    let bytes = b"a,b\n0,1\n10,2\n20,3\n";
    let mut layout = sniff(bytes, "log.csv").unwrap();
    layout.time = TimeBase::Number { column: 0, unit: Unit::Millisecond };
    let json = serde_json::to_string(&layout).unwrap();
    let layout = serde_json::from_str(&json).unwrap();
    let mut reader = Reader::new("log.csv", layout).unwrap();
    reader.feed(bytes).unwrap();
    assert_eq!(reader.finish().unwrap().parts[0].time_s, [0.0, 0.01, 0.02]);
}

#[test]
fn no_role_twice_and_the_real_unit_first() {
    let source = one(
        "t_s,front travel raw,front travel [mm],imu1 acc x [g],imu2 acc x [g],speed [km/h]\n0,1,2,3,4,5\n1,1,2,3,4,5\n2,1,2,3,4,5\n",
    );
    let roles: Vec<Role> = guess_channels(&source.layout).into_iter().map(|(role, _)| role).collect();
    let (travel, accel) = (Role::Travel(End::Front), Role::Accel(Place::Frame, Axis::X));
    assert_eq!(roles, [Role::Unused, Role::Unused, travel, accel, Role::Unused, Role::Unused]);
}
