//! Links give back what was put in, to the quantum that they state, and take nothing else.

use std::sync::Arc;

use evenkeel_core::align::{Anchor, Moment};
use evenkeel_core::handover::{
    Extract, ExtractChannel, Fits, KeyPair, Link, MAX_FRAGMENT, Pointer, Stretch, View, quantum,
};
use evenkeel_core::ride::{Trace, Traces};
use evenkeel_core::track::Section;
use evenkeel_core::{Axis, Day, End, MarkedMoment, Place, Role, analyse_now, import};
use evenkeel_tests::odd::Odd;

fn again(link: &Link) -> Link {
    let fragment = link.fragment().unwrap();
    assert!(fragment.bytes().all(|c| c.is_ascii_alphanumeric() || b"-_=".contains(&c)), "{fragment}");
    Link::read(&format!("#{fragment}")).unwrap().unwrap()
}

/// Half the stated quantum, and the last bit of an `f32`.
#[track_caller]
fn assert_within_the_quantum(sent: &ExtractChannel, got: &ExtractChannel) {
    assert_eq!(
        (sent.trace, sent.start_s, sent.rate_hz, sent.origin),
        (got.trace, got.start_s, got.rate_hz, got.origin)
    );
    assert_eq!(sent.samples.len(), got.samples.len());
    for (place, (&a, &b)) in sent.samples.iter().zip(&got.samples).enumerate() {
        if a.is_finite() {
            let off = (f64::from(a) - f64::from(b)).abs();
            let last_bit = f64::from(a.abs().max(b.abs())) * f64::from(f32::EPSILON);
            assert!(off <= got.quantum / 2.0 + last_bit, "{place}: {a} became {b}, quantum {}", got.quantum);
        } else {
            assert!(b.is_nan(), "{place}: what is missing stays missing");
        }
    }
}

fn odd_extract(odd: &mut Odd) -> Extract {
    let traces = [
        Trace::travel(End::Front),
        Trace::Logged(Role::Brake(End::Rear)),
        Trace::Logged(Role::Latitude),
        Trace::PITCH_RATE,
        Trace::Slip(End::Rear),
    ];
    let channels = (0..odd.below(5)).map(|_| {
        let trace = traces[odd.below(traces.len())];
        let wild = odd.once_in(4);
        let samples = (0..odd.below(400)).map(|k| match odd.below(9) {
            0 => f32::NAN,
            _ if wild => odd.f32(),
            _ => (0.05 * (k as f64 / 17.0).sin() * (1.0 + odd.below(100) as f64 / 300.0)) as f32,
        });
        let samples = samples.collect();
        ExtractChannel {
            trace,
            start_s: odd.finite(),
            rate_hz: 1.0 + odd.below(500) as f64,
            quantum: quantum(trace),
            origin: if trace == traces[2] { 0.82 } else { 0.0 },
            samples,
        }
    });
    let channels = channels.collect();
    Extract {
        id: odd.name(),
        day: odd.name(),
        words: odd.name(),
        cursor_s: odd.once_in(2).then(|| odd.finite()),
        sections: vec![Stretch { name: odd.name(), range_s: [odd.finite(), odd.finite()] }],
        marks: vec![MarkedMoment { time_s: odd.finite(), name: odd.name() }],
        remarks: odd.remarks(),
        channels,
        ..Extract::default()
    }
}

#[test]
fn an_extract_gives_its_traces_back_within_the_stated_quantum() {
    for seed in 0..300 {
        let sent = odd_extract(&mut Odd::new(seed));
        let Link::Extract(got) = again(&Link::Extract(sent.clone())) else { panic!("it was an extract") };
        let typed = |extract: &Extract| Extract { channels: Vec::new(), ..extract.clone() };
        assert_eq!(typed(&sent), typed(&got), "seed {seed}");
        assert_eq!(sent.channels.len(), got.channels.len());
        for (sent, got) in sent.channels.iter().zip(&got.channels) {
            assert_within_the_quantum(sent, got);
            let ordinary =
                sent.samples.iter().all(|s| !s.is_finite() || f64::from(s.abs()) < 1e4 * quantum(sent.trace));
            assert!(got.quantum == quantum(sent.trace) || !ordinary, "only the immeasurable is coarser");
        }
        // What is on the quanta already stays as it is.
        let Link::Extract(twice) = again(&Link::Extract(got.clone())) else { panic!("it was an extract") };
        for (once, twice) in got.channels.iter().zip(&twice.channels) {
            assert!(once.samples.iter().zip(&twice.samples).all(|(a, b)| a.to_bits() == b.to_bits()));
        }
    }
}

fn demo_traces() -> (Day, Traces) {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../demo-data/harrowdean/");
    let file = |name: &str| std::fs::read(format!("{folder}{name}")).unwrap();
    let day: Day = serde_json::from_slice(&file("day.json")).unwrap();
    let names = ["run-1-suspension.csv", "run-1-motion.csv"];
    let sources: Vec<_> =
        names.iter().flat_map(|name| import::read(name, &file(name)).unwrap().parts).map(Arc::new).collect();
    let traces = analyse_now(&day, &day.runs[0], &sources).traces.unwrap();
    (day, traces)
}

/// Eight seconds of what a coach looks at first, from the demo day.
#[test]
fn a_piece_of_a_run_fits_a_mail_and_shows_what_the_run_shows() {
    let (day, traces) = demo_traces();
    let grid = traces.grid();
    let middle = grid.time_s(grid.len / 2);
    let range = [middle, middle + 8.0];
    let wanted = [
        (Trace::travel(End::Front), 100.0),
        (Trace::travel(End::Rear), 100.0),
        (Trace::Logged(Role::Brake(End::Front)), 50.0),
        (Trace::Logged(Role::Brake(End::Rear)), 50.0),
        (Trace::Speed, 10.0),
    ];
    let channel =
        |&(trace, rate_hz): &(Trace, f64)| ExtractChannel::of(&traces, trace, range, rate_hz).unwrap();
    let channels: Vec<ExtractChannel> = wanted.iter().map(channel).collect();
    for (channel, (trace, rate_hz)) in channels.iter().zip(wanted) {
        assert_eq!(channel.rate_hz, rate_hz);
        let [start_s, end_s] =
            [channel.start_s, channel.start_s + (channel.samples.len() - 1) as f64 / rate_hz];
        assert!((start_s - range[0]).abs() < 1.0 / grid.rate_hz, "starts at {start_s}");
        assert!((end_s - range[1]).abs() < 1.0 / rate_hz, "ends at {end_s}");
        // Slow motion passes the filter: the mean over the range is the run's own.
        let whole = ExtractChannel::of(&traces, trace, range, f64::INFINITY);
        assert!(whole.is_err(), "no such rate");
        let whole = ExtractChannel::of(&traces, trace, range, 1e6).unwrap();
        assert_eq!(whole.rate_hz, grid.rate_hz);
        let mean =
            |samples: &[f32]| samples.iter().map(|&s| f64::from(s)).sum::<f64>() / samples.len() as f64;
        let (a, b) = (mean(&channel.samples), mean(&whole.samples));
        let spread = whole.samples.iter().fold(0.0_f64, |most, &s| most.max((f64::from(s) - b).abs()));
        assert!((a - b).abs() < 0.02 * spread, "{trace:?}: mean {a}, of the run {b}");
    }
    let extract = Extract { day: day.name.clone(), channels, ..Extract::default() };
    let fragment = Link::Extract(extract.clone()).fragment().unwrap();
    println!("8 s of 5 channels: {} characters", fragment.len());
    assert!(Fits::of(fragment.len() + 60) <= Fits::Mail, "{} characters", fragment.len());
    let Link::Extract(got) = Link::read(&fragment).unwrap().unwrap() else { panic!("it was an extract") };
    for (sent, got) in extract.channels.iter().zip(&got.channels) {
        assert_within_the_quantum(sent, got);
        assert_eq!(got.quantum, quantum(sent.trace));
    }

    let beyond = ExtractChannel::of(&traces, Trace::Speed, [-1e9, -1e8], 10.0);
    assert!(beyond.is_err());
    let none = Trace::Logged(Role::Magnet(Place::Bar, Axis::X));
    assert!(ExtractChannel::of(&traces, none, range, 10.0).unwrap_err().0.contains("no such trace"));
    let all: Vec<ExtractChannel> = traces
        .iter()
        .map(|(trace, _)| {
            ExtractChannel::of(&traces, trace, [grid.start_s, grid.start_s + 600.0], 1e6).unwrap()
        })
        .collect();
    let why = Link::Extract(Extract { channels: all, ..extract }).fragment().unwrap_err().to_string();
    assert!(why.contains("is the most"), "{why}");
}

#[test]
fn a_view_and_a_pointer_come_back_as_they_were() {
    let mut odd = Odd::new(9);
    let moment = |seconds| Moment { seconds, resolution_s: 0.04 };
    let section = Section { name: odd.name(), start_m: 120.25, end_m: 310.0, no_braking: true };
    let view = View {
        id: "d".to_owned(),
        day: odd.name(),
        place: "ride".to_owned(),
        section: Some(section.name.clone()),
        cursor_s: Some(83.456_789_012),
        range_s: Some([80.1, 90.2]),
        sections: vec![section],
        anchors: vec![Anchor { log: moment(80.5), video: moment(29.4) }],
        remarks: odd.remarks(),
        ..View::default()
    };
    assert_eq!(again(&Link::View(view.clone())), Link::View(view.clone()));
    let pointer = Pointer { file: "days/wet.age".to_owned(), key: KeyPair::generate().secret };
    assert_eq!(again(&Link::Pointer(pointer.clone())), Link::Pointer(pointer.clone()));
    assert!(
        Link::Pointer(Pointer { file: "https://host.invalid/a".to_owned(), ..pointer }).fragment().is_err()
    );
    let lost = View { cursor_s: Some(f64::NAN), range_s: Some([f64::NAN, 1.0]), ..view.clone() };
    assert!(Link::View(lost).fragment().is_err(), "what could not be read again is not sent");
    let small = Link::View(View { remarks: Default::default(), ..view }).fragment().unwrap();
    println!("a view: {} characters", small.len());
    assert!(Fits::of(small.len() + 60) == Fits::Messenger, "{}", small.len());
}

/// Each character changed or left out: an error, or by chance the same link; never another one, never a panic.
#[test]
fn a_damaged_link_is_an_error() {
    let mut odd = Odd::new(31);
    let extract = odd_extract(&mut odd);
    let whole = Link::Extract(extract).fragment().unwrap();
    assert!(whole.len() < MAX_FRAGMENT);
    let body = whole.find('=').unwrap() + 1;
    for place in body..whole.len() {
        assert!(Link::read(&whole[..place]).unwrap().is_err(), "cut to {place}");
        let mut altered = whole.clone().into_bytes();
        altered[place] = if altered[place] == b'x' { b'y' } else { b'x' };
        let altered = String::from_utf8(altered).unwrap();
        assert!(Link::read(&altered).unwrap().is_err(), "character {place}");
    }
    for script in
        ["view=<script>alert(1)</script>", "extract=javascript:alert(1)", "sealed=%3Cimg%3E", "view=\u{202e}"]
    {
        let why = Link::read(script).unwrap().unwrap_err().to_string();
        assert!(!why.contains('<') && !why.contains("alert"), "{why}");
    }
}
