//! How much a first visit fetches, and how soon it can begin.

use std::io::Write;
use std::path::PathBuf;

use flate2::Compression;
use flate2::write::GzEncoder;

use super::app::{App, REHEARSED, Watched, best};
use super::table::{Line, Table, ms};

const PAGE: [&str; 10] = [
    "index.html",
    "boot.js",
    "offline.js",
    "picture.js",
    "page.js",
    "page_bg.wasm",
    "style/evenkeel.css",
    "style/back_to_back.css",
    "style/hand_over.css",
    "style/print.css",
];
const LATER: [&str; 1] = ["later_bg.wasm"];
const SEAL: [&str; 2] = ["seal.js", "seal_bg.wasm"];
const WORKER: [&str; 2] = ["worker.js", "worker_bg.wasm"];
const VISITS: usize = 3;

pub fn measure(table: &mut Table) {
    table.part("To fetch, gzipped");
    let sum = |files: &[&str]| files.iter().map(|file| gzipped(file)).sum::<usize>();
    let [page, later, worker, seal] = [&PAGE[..], &LATER, &WORKER, &SEAL].map(sum);
    let kb = |bytes: usize| format!("{:.0} kB", bytes as f64 / 1e3);
    table.line(
        Line::new("page to begin with: html, js, wasm, css", kb(page)).goal("< 600 kB", page < 600_000),
    );
    table.line(Line::new("its other places, fetched once it has begun", kb(later)));
    let whole = page + later;
    table.line(Line::new("the whole page", kb(whole)).goal("< 600 kB", whole < 600_000));
    table.line(Line::new("its worker: js, wasm", kb(worker)));
    let all = whole + worker;
    table.line(Line::new("all", kb(all)).goal("< 600 kB", all < 600_000));
    let line = Line::new("what seals and opens, fetched when asked for", kb(seal));
    table.line(line.goal("< 300 kB", seal < 300_000));
    let visits: Vec<Watched> = (0..VISITS).map(|_| App::fresh().watched()).collect();
    let first_ms = best(visits.iter().map(|visit| visit.interactive.unwrap_or(f64::INFINITY)));
    let visit = Line::new("first visit until the demo can be started, best of 3", ms(first_ms));
    table.line(visit.goal("< 1000 ms", first_ms < 1000.0));
    let rehearsed =
        |visit: &Watched| visit.marks.iter().find(|mark| mark.name == REHEARSED).map(|mark| mark.at);
    table
        .line(Line::new("first visit until it has rehearsed", ms(best(visits.iter().filter_map(rehearsed)))));
}

/// Of the file that has this name in the sources: on the site its content is in its name, after a dash.
fn gzipped(file: &str) -> usize {
    let site = PathBuf::from(std::env::var_os("EVENKEEL_SITE").expect("EVENKEEL_SITE names the built site"));
    let path = site.join(file);
    let (folder, stem) = (path.parent().unwrap(), format!("{}-", path.file_stem().unwrap().display()));
    let is_it = |name: &str| {
        name.strip_prefix(&stem).is_some_and(|rest| rest.ends_with(file.rsplit('.').next().unwrap()))
    };
    let mut there =
        std::fs::read_dir(folder).unwrap().filter_map(|entry| entry.unwrap().file_name().into_string().ok());
    let path = if path.is_file() { path } else { folder.join(there.find(|name| is_it(name)).unwrap()) };
    let bytes = std::fs::read(path).unwrap_or_else(|error| panic!("{file}: {error}"));
    let mut encoder = GzEncoder::new(Vec::new(), Compression::best());
    encoder.write_all(&bytes).unwrap();
    encoder.finish().unwrap().len()
}
