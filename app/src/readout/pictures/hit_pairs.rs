//! Both ends on the same bumps.

use evenkeel_core::LevelReadout;
use evenkeel_core::ride::HitPair;
use leptos::prelude::*;

use super::card::{Picture, moments};
use super::chart::{Axis, chart, dot, line};
use crate::words::fixed;

/// So many pairs stand in the table.
const LISTED: usize = 20;

pub fn pairs(level: &LevelReadout, go: Callback<[f64; 2]>) -> Picture {
    let found = level.hit_pairs.hit_pairs.get();
    let span = |pair: &HitPair| [pair.front_s, pair.rear_s + 0.4];
    // Vertical wheel movement of both ends.
    let movement = |pair: &HitPair| {
        let front_m = if pair.ratio > 1.0 + 1e-9 || pair.ratio < 1.0 - 1e-9 {
            pair.difference_m / (pair.ratio - 1.0)
        } else {
            pair.rear_stroke_m
        };
        [front_m * 1e3, pair.rear_stroke_m * 1e3]
    };
    let draw = |pairs: &Vec<HitPair>| {
        let most = pairs.iter().flat_map(movement).fold(0.0, f64::max);
        let x = Axis::new("front wheel up", "mm", [0.0, 1.05 * most]);
        let y = Axis::new("rear wheel up", "mm", [0.0, 1.05 * most]);
        let same = line(&x, &y, [(0.0, 0.0), (1.05 * most, 1.05 * most)], "level");
        let middle = level.hit_pairs.hit_ratio.get().ok().map(|ratio| {
            let far = (1.05 * most).min(1.05 * most / ratio);
            line(&x, &y, [(0.0, 0.0), (far, far * ratio)], "middle")
        });
        let dots = pairs.iter().map(|pair| {
            let [front, rear] = movement(pair);
            let told = format!("front {} mm, rear {} mm", fixed(front, 0), fixed(rear, 0));
            let span = span(pair);
            dot(x.x(front), y.y(rear), "pair".to_owned(), told, move || go.run(span))
        });
        let inside = (same, middle, dots.collect::<Vec<_>>());
        chart("Both ends on the same bumps", &x, &y, inside.into_any())
    };
    let mut listed: Vec<HitPair> = found.as_ref().map(|pairs| (*pairs).clone()).unwrap_or_default();
    listed.sort_by(|a, b| b.difference_m.abs().total_cmp(&a.difference_m.abs()));
    let rows = listed.iter().take(LISTED).map(|pair| {
        let [front, rear] = movement(pair);
        (span(pair), vec![fixed(front, 0), fixed(rear, 0), fixed(pair.ratio, 2)])
    });
    Picture {
        caption: "Each dot is one bump that both wheels met. On the dashed line both move alike; the full line is the middle of all ratios. A click goes there. The table lists the most unlike.",
        table: moments(&["at", "front, mm", "rear, mm", "rear over front"], rows.collect(), go),
        drawn: found.map(draw),
    }
}
