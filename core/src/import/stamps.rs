//! Raw time stamps into strictly increasing time: doubles and wild ones out, counters unwrapped,
//! restarts split.

use std::ops::Range;

use super::steps::median_step;

/// How many rows ahead decide whether a strange stamp is wild or the start of something new.
const LOOK_AHEAD: usize = 4;
/// Longer silence than this, s, and 1000 median steps is another recording, not a gap.
const LONGEST_GAP_S: f64 = 3600.0;
/// More parts than a day of restarts would give: the column is no clock.
const MAX_PARTS: usize = 64;

/// One stretch of strictly increasing time.
#[derive(Debug, Default, PartialEq)]
pub(super) struct Part {
    /// Time of each kept row, s, unwrapped.
    pub time_s: Vec<f64>,
    /// The kept rows, as runs of row indices.
    pub runs: Vec<Range<usize>>,
    /// How this part begins.
    pub start: Start,
    /// Rows with the stamp of the row before: count and first row.
    pub doubles: Tally,
    /// Rows with a wild stamp between good neighbours.
    pub wild: Tally,
    /// Rows whose stamp is missing or unreadable.
    pub unreadable: Tally,
    /// Where a counter rolled over: row, period in s.
    pub rollovers: Vec<(usize, f64)>,
}

/// Why a part begins.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) enum Start {
    /// It is the first.
    #[default]
    First,
    /// Time went back by so many s and stayed.
    Back(usize, f64),
    /// Time leapt ahead by so many s and stayed.
    Ahead(usize, f64),
}

/// How many, and the first row.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Tally {
    pub count: usize,
    pub first: usize,
}

impl Tally {
    pub(super) fn add(&mut self, index: usize) {
        if self.count == 0 {
            self.first = index;
        }
        self.count += 1;
    }

    fn merge(&mut self, other: Self) {
        if other.count > 0 {
            self.first = if self.count == 0 { other.first } else { self.first.min(other.first) };
            self.count += other.count;
        }
    }
}

/// Why no time can be made of the stamps.
#[derive(Debug, PartialEq)]
pub(super) enum NoTime {
    /// Fewer than two different readable stamps.
    Still,
    /// It runs backward.
    Backward,
    /// It jumps about more than it runs.
    Jumpy,
}

/// Cleans stamps in s; NaN is unreadable. `periods` are the lengths, s, after which this kind of
/// clock may start over, shortest first.
pub(super) fn clean(raw_s: &[f64], periods: &[f64]) -> Result<Vec<Part>, NoTime> {
    let median = median_step(raw_s.iter().copied().filter(|t| t.is_finite())).ok_or_else(|| {
        let mut finite = raw_s.iter().filter(|t| t.is_finite());
        match (finite.next(), finite.next_back()) {
            (Some(first), Some(last)) if last < first => NoTime::Backward,
            _ => NoTime::Still,
        }
    })?;
    let part = Part { time_s: Vec::with_capacity(raw_s.len()), ..Part::default() };
    let mut walk = Walk { raw_s, periods, median, offset: 0.0, last: None, highest: 0.0, part };
    let mut parts = Vec::new();
    for row in 0..raw_s.len() {
        if let Some(start) = walk.row(row) {
            walk.close(&mut parts, start);
            walk.row(row);
            if parts.len() > MAX_PARTS {
                return Err(NoTime::Jumpy);
            }
        }
    }
    walk.close(&mut parts, Start::First);
    let kept: usize = parts.iter().map(|part| part.time_s.len()).sum();
    let wild: usize = parts.iter().map(|part| part.wild.count).sum();
    match kept {
        0 | 1 => Err(NoTime::Still),
        _ if wild > kept => Err(NoTime::Jumpy),
        _ => Ok(parts),
    }
}

struct Walk<'a> {
    raw_s: &'a [f64],
    periods: &'a [f64],
    median: f64,
    /// Added to raw stamps by rollovers so far.
    offset: f64,
    /// The last kept stamp, unwrapped.
    last: Option<f64>,
    /// Highest raw stamp kept in this part.
    highest: f64,
    part: Part,
}

impl Walk<'_> {
    /// Takes one row in; gives a reason if a new part must start with it.
    fn row(&mut self, row: usize) -> Option<Start> {
        let raw = self.raw_s[row];
        if !raw.is_finite() {
            self.part.unreadable.add(row);
            return None;
        }
        let now = raw + self.offset;
        if let Some(last) = self.last
            && self.follows_and_is_followed(row, now - last)
        {
            self.keep(row, now);
            return None;
        }
        let ahead = self.ahead(row);
        let Some(last) = self.last else {
            if self.stands_alone(raw, &ahead) {
                self.part.wild.add(row)
            } else {
                self.keep(row, now)
            }
            return None;
        };
        let step = now - last;
        if step == 0.0 {
            self.part.doubles.add(row);
        } else if step > 0.0 {
            if self.is_wild_ahead(last, now, &ahead) {
                self.part.wild.add(row);
            } else if step > self.longest_gap() {
                return Some(Start::Ahead(row, step));
            } else {
                self.keep(row, now);
            }
        } else if self.resumes(last, &ahead, &[]) {
            self.part.wild.add(row);
        } else if let Some(period) = self.rollover(last, raw) {
            self.offset += period;
            self.part.rollovers.push((row, period));
            self.keep(row, now + period);
        } else if !self.resumes(last, &ahead, self.periods) && ahead.iter().flatten().any(|&next| next > raw)
        {
            return Some(Start::Back(row, -step));
        } else {
            self.part.wild.add(row);
        }
        None
    }

    /// The usual case, told without looking further: a stamp between its neighbours is not wild.
    fn follows_and_is_followed(&self, row: usize, step: f64) -> bool {
        let next = self.raw_s.get(row + 1);
        step > 0.0
            && step <= self.longest_gap()
            && next.is_some_and(|next| *next > self.raw_s[row] && next.is_finite())
    }

    fn longest_gap(&self) -> f64 {
        LONGEST_GAP_S.max(1000.0 * self.median)
    }

    fn keep(&mut self, row: usize, time_s: f64) {
        self.part.time_s.push(time_s);
        self.last = Some(time_s);
        self.highest = self.highest.max(time_s - self.offset);
        match self.part.runs.last_mut() {
            Some(run) if run.end == row => run.end += 1,
            _ => self.part.runs.push(row..row + 1),
        }
    }

    /// Ends the part. A single row is no recording: it counts as wild in what follows.
    fn close(&mut self, parts: &mut Vec<Part>, next: Start) {
        let mut done = std::mem::replace(&mut self.part, Part { start: next, ..Part::default() });
        (self.offset, self.last, self.highest) = (0.0, None, 0.0);
        if done.time_s.len() >= 2 {
            done.time_s.shrink_to_fit();
            return parts.push(done);
        }
        for run in std::mem::take(&mut done.runs) {
            run.for_each(|row| done.wild.add(row));
        }
        // What the fragment found goes to a neighbour, so that every row is accounted for.
        if parts.is_empty() {
            self.part.start = done.start;
        }
        let heir = parts.last_mut().unwrap_or(&mut self.part);
        heir.wild.merge(done.wild);
        heir.doubles.merge(done.doubles);
        heir.unreadable.merge(done.unreadable);
    }

    /// The next readable raw stamps.
    fn ahead(&self, row: usize) -> [Option<f64>; LOOK_AHEAD] {
        let mut next = self.raw_s[row + 1..].iter().take(4 * LOOK_AHEAD).copied().filter(|t| t.is_finite());
        std::array::from_fn(|_| next.next())
    }

    /// True where one of the coming stamps goes on from `last` as if nothing had been between, or
    /// would after one of these periods.
    fn resumes(&self, last: f64, ahead: &[Option<f64>; LOOK_AHEAD], periods: &[f64]) -> bool {
        ahead.iter().zip(1..).any(|(next, k)| {
            let within = 3.0 * self.median * f64::from(k + 1);
            let follows = |next: f64| next > last && next - last <= within;
            next.map(|next| next + self.offset).is_some_and(|next| {
                follows(next) || periods.iter().any(|period| self.highest < *period && follows(next + period))
            })
        })
    }

    /// A stamp ahead of its time is wild where the next one is before it again, or where the file
    /// ends with it. Of two neighbours in the wrong order, the one that fits worse goes.
    fn is_wild_ahead(&self, last: f64, now: f64, ahead: &[Option<f64>; LOOK_AHEAD]) -> bool {
        let step = now - last;
        let far = step > 3.0 * self.median;
        let Some(next) = ahead[0] else { return step > 100.0 * self.median };
        let next_step = next + self.offset - last;
        if next_step > 0.0 && next_step < step {
            return (step - self.median).abs() > (next_step - self.median).abs();
        }
        far && next_step <= 0.0 && self.resumes(last, ahead, self.periods)
    }

    /// A first row far from all that follows.
    fn stands_alone(&self, raw: f64, ahead: &[Option<f64>; LOOK_AHEAD]) -> bool {
        let (Some(second), Some(third)) = (ahead[0], ahead[1]) else { return false };
        let far = second - raw > 100.0 * self.median || second < raw;
        let settled = (0.0..=3.0 * self.median).contains(&(third - second));
        far && settled && self.rollover(raw, second).is_none()
    }

    /// The period after which the clock started over between `last` and `raw`, if it did.
    fn rollover(&self, last: f64, raw: f64) -> Option<f64> {
        let before = last - self.offset;
        self.periods.iter().copied().find(|&period| {
            let longest = (10.0 * self.median).max((period / 144.0).min(600.0));
            let step = raw + period - before;
            // Stamps beyond the period show that the clock does not start over there.
            step > 0.0 && step <= longest && self.highest < period && self.median < period / 4.0
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const U16_MS: f64 = 65.536;

    fn times(from: usize, to: usize) -> Vec<f64> {
        (from..to).map(|i| i as f64 * 0.01).collect()
    }

    fn one(raw: &[f64], periods: &[f64]) -> Part {
        let mut parts = clean(raw, periods).unwrap();
        assert_eq!(parts.len(), 1, "{parts:?}");
        let part = parts.remove(0);
        assert!(part.time_s.windows(2).all(|pair| pair[1] > pair[0]));
        assert_eq!(part.time_s.len(), part.runs.iter().map(Range::len).sum::<usize>());
        part
    }

    #[test]
    fn a_single_wild_stamp_costs_its_own_row_only() {
        for wild in [1e6, 0.58, 0.9, -5.0, 0.0, 0.123, 64.0] {
            let mut raw = times(0, 200);
            raw[50] = wild;
            let part = one(&raw, &[U16_MS]);
            assert_eq!((part.wild.count, part.wild.first, part.time_s.len()), (1, 50, 199), "{wild}");
        }
        for wild in [1e6, -3.0] {
            let mut raw = times(0, 200);
            raw[199] = wild;
            assert_eq!(one(&raw, &[]).runs.first(), Some(&(0..199)), "{wild}");
            let mut raw = times(0, 200);
            raw[0] = wild;
            assert_eq!(one(&raw, &[]).runs.first(), Some(&(1..200)), "{wild}");
        }
    }

    #[test]
    fn doubles_and_swapped_rows() {
        let part = one(&[0.0, 0.01, 0.01, 0.02, 0.04, 0.03, 0.05, f64::NAN, 0.06], &[]);
        assert_eq!((part.doubles.count, part.doubles.first), (1, 2));
        assert_eq!((part.wild.count, part.unreadable.count), (1, 1));
        assert_eq!(part.time_s, [0.0, 0.01, 0.02, 0.03, 0.05, 0.06]);
    }

    #[test]
    fn irregular_steps_and_gaps_are_no_wild_stamps() {
        let mut t = 0.0;
        let raw: Vec<f64> = (0..100)
            .map(|i| {
                t += if i == 60 { 61.3 } else { 0.4 + 0.1 * f64::from(i * 7 % 11) / 10.0 };
                t
            })
            .collect();
        let part = one(&raw, &[U16_MS]);
        assert_eq!(part.time_s, raw);
    }

    #[test]
    fn counters_and_midnight_are_unwrapped() {
        for (period, start) in [(U16_MS, 60.0), (4_294.967_296, 4290.0), (86_400.0, 86_395.0)] {
            let raw: Vec<f64> = (0..1000).map(|i| (start + f64::from(i) * 0.01) % period).collect();
            let part = one(&raw, &[period]);
            assert_eq!(part.rollovers.len(), 1);
            assert!(part.time_s.iter().zip(0..).all(|(t, i)| (t - start - f64::from(i) * 0.01).abs() < 1e-9));
        }
        // Twice round, once without the last row before it.
        let raw: Vec<f64> =
            (0..14_000).filter(|i| *i != 6553).map(|i| (f64::from(i) * 0.01) % U16_MS).collect();
        assert_eq!(one(&raw, &[U16_MS, 4_294_967.296]).rollovers.len(), 2);
    }

    #[test]
    fn wild_beside_a_rollover() {
        let mut raw: Vec<f64> = (0..1000).map(|i| (60.0 + f64::from(i) * 0.01) % U16_MS).collect();
        let last_before = raw.iter().position(|&t| t < 1.0).unwrap() - 1;
        raw[last_before] = 3e5;
        let part = one(&raw, &[U16_MS]);
        assert_eq!((part.wild.count, part.rollovers.len(), part.time_s.len()), (1, 1, 999));
    }

    #[test]
    fn a_restart_makes_two_parts() {
        let raw = [times(100, 400), times(0, 300)].concat();
        let parts = clean(&raw, &[U16_MS]).unwrap();
        assert_eq!(parts.len(), 2);
        let runs: Vec<&[Range<usize>]> = parts.iter().map(|part| part.runs.as_slice()).collect();
        assert_eq!(runs.concat(), [0..300, 300..600]);
        assert!(matches!(parts[1].start, Start::Back(300, back) if (back - 3.99).abs() < 1e-9));
        assert_eq!(parts[1].time_s[0], 0.0);
    }

    #[test]
    fn a_clock_that_is_set_while_recording_makes_two_parts() {
        let raw = [times(0, 300), times(0, 300).iter().map(|t| t + 1.7e9).collect()].concat();
        let parts = clean(&raw, &[]).unwrap();
        assert_eq!(parts.len(), 2);
        assert!(matches!(parts[1].start, Start::Ahead(300, _)));
    }

    #[test]
    fn what_is_no_clock_is_refused() {
        assert_eq!(clean(&[], &[]), Err(NoTime::Still));
        assert_eq!(clean(&[5.0; 100], &[]), Err(NoTime::Still));
        assert_eq!(clean(&[3.0, 2.0, 1.0], &[]), Err(NoTime::Backward));
        let random: Vec<f64> = (0..5000_u64).map(|i| (i * 7919 % 5003) as f64).collect();
        assert_eq!(clean(&random, &[]), Err(NoTime::Jumpy));
    }
}
