//! The frames of a video that plays, learnt from the times at which its frames begin.

use super::FrameRate;

/// Files keep a frame's time to a millisecond at worst: it may be this far off, s (Matroska's usual step).
const ROUNDING_S: f64 = 0.0006;
/// A count of frames is believed while what is not known of their length adds up to less than this share of
/// one.
const SURE: f64 = 0.25;
/// A length known to this share tells 30 from 29.97 frames a second, a thousandth apart.
const TELLS_RATES: f64 = 3e-4;
/// Shorter is no frame, s (twice the fastest of the cameras' rates).
const SHORTEST_S: f64 = 1.0 / 480.0;

/// How long frames last, and how to get from one to another.
///
/// A frame is named by the time at which it begins, as the browser reports it. Where frames do not come
/// evenly, the length is that of the ones seen last, and who seeks must look where the seek came out.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Frames {
    known: Option<Known>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
struct Known {
    length_s: f64,
    unsure_s: f64,
    /// A frame from which others are counted, s.
    counted_from_s: f64,
}

impl Frames {
    /// Two frames that follow each other.
    pub fn neighbours(&mut self, first_s: f64, second_s: f64) {
        let length_s = second_s - first_s;
        if length_s >= SHORTEST_S && length_s.is_finite() {
            self.known = Some(Known { length_s, unsure_s: 2.0 * ROUNDING_S, counted_from_s: first_s });
        }
    }

    /// A frame that was shown: the further from the first, the better the length is known.
    pub fn saw(&mut self, frame_s: f64) {
        let Some(known) = &mut self.known else { return };
        let apart_s = frame_s - known.counted_from_s;
        let count = (apart_s / known.length_s).round();
        let unsure_s = 2.0 * ROUNDING_S / count.abs();
        if count != 0.0 && count.abs() * known.unsure_s < SURE * known.length_s && unsure_s < known.unsure_s {
            (known.length_s, known.unsure_s) = (apart_s / count, unsure_s);
        }
    }

    /// Length of a frame, s, once two were seen; that of a camera's rate as soon as it is told.
    pub fn length_s(&self) -> Option<f64> {
        self.rate().map(|rate| rate.time_s(1)).or(self.known.map(|known| known.length_s))
    }

    /// The camera's rate, once enough was seen to tell it from its neighbours.
    pub fn rate(&self) -> Option<FrameRate> {
        let known = self.known.filter(|known| known.unsure_s < TELLS_RATES * known.length_s)?;
        FrameRate::near(1.0 / known.length_s)
    }

    /// Whether a frame is the one that shows at a video time.
    pub fn shows(&self, frame_s: f64, video_s: f64) -> bool {
        self.away(frame_s, video_s) == 0.0
    }

    /// Where to seek so that the frame of a video time shows: the middle of that frame as counted from the
    /// one that shows now, and within half a frame of the time whatever the count says. At a frame's very
    /// beginning browsers show the one before.
    pub fn aim_s(&self, video_s: f64, shown_s: Option<f64>) -> f64 {
        match (self.length_s(), shown_s) {
            (Some(length_s), Some(shown_s)) => {
                let middle_s = shown_s + (self.away(shown_s, video_s) + 0.5) * length_s;
                let half_s = length_s / 2.0;
                middle_s.clamp(video_s - half_s, video_s + half_s + ROUNDING_S)
            }
            _ => video_s + ROUNDING_S,
        }
    }

    /// Where to seek to be `count` frames further, the middle of the frame.
    pub fn step_s(&self, shown_s: f64, count: f64) -> f64 {
        let length_s = self.length_s().unwrap_or(Self::USUAL_S);
        shown_s + (count + 0.5) * length_s
    }

    /// Length of a frame where none is known, s: the rate that most cameras come set to (common practice).
    pub const USUAL_S: f64 = 1.0 / 30.0;

    /// By how many frames a video time is away from a frame. A time that is typed to the millisecond may
    /// fall short of the beginning that it means.
    fn away(&self, frame_s: f64, video_s: f64) -> f64 {
        let length_s = self.length_s().unwrap_or(Self::USUAL_S);
        ((video_s + ROUNDING_S.min(length_s / 8.0) - frame_s) / length_s).floor()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LENGTH_S: f64 = 1001.0 / 30_000.0;

    /// When frame `k` begins, as a file of milliseconds has it.
    fn begins(k: u32) -> f64 {
        (f64::from(k) * LENGTH_S * 1e3).round() / 1e3
    }

    fn learnt(frames: impl IntoIterator<Item = u32>) -> Frames {
        let mut known = Frames::default();
        known.neighbours(begins(29), begins(30));
        frames.into_iter().for_each(|k| known.saw(begins(k)));
        known
    }

    #[test]
    fn frames_seen_tell_the_rate() {
        assert_eq!(Frames::default().length_s(), None);
        let two = learnt([]);
        assert!((two.length_s().unwrap() - LENGTH_S).abs() < 1.2e-3 && two.rate().is_none());
        // One frame in three was drawn, from a place elsewhere.
        let played = learnt((30..600).step_by(3));
        assert!((played.length_s().unwrap() / LENGTH_S - 1.0).abs() < 1e-4);
        assert_eq!(played.rate(), FrameRate::near(29.97));
        // A frame that is too far off to be counted teaches nothing.
        assert_eq!(learnt([5000]), two);
    }

    #[test]
    fn a_frame_shows_from_its_beginning_until_the_next() {
        let frames = learnt(30..600);
        for k in [0, 1, 29, 1000, 5394] {
            let begin = f64::from(k) * LENGTH_S;
            assert!(frames.shows(begins(k), begin) && frames.shows(begins(k), begin + 0.9 * LENGTH_S));
            assert!(!frames.shows(begins(k), begin - 0.002));
            assert!(!frames.shows(begins(k), begin + LENGTH_S + 0.001));
            // Written to the millisecond and typed again, it is the same frame.
            assert!(frames.shows(begins(k), (begin * 1e3).round() / 1e3));
        }
    }

    #[test]
    fn a_seek_aims_at_the_middle_of_a_frame() {
        let frames = learnt(30..600);
        for k in 0..5000 {
            let video_s = (f64::from(k) + f64::from(k % 97) / 100.0) * LENGTH_S;
            let into = frames.aim_s(video_s, Some(begins(300))) / LENGTH_S - f64::from(k);
            assert!((0.2..0.8).contains(&into), "{into} of frame {k}");
        }
        // However wrong the length, the aim stays near.
        let mut wrong = Frames::default();
        wrong.neighbours(0.0, 0.050);
        assert!((wrong.aim_s(100.0, Some(0.0)) - 100.0).abs() <= 0.026);
        assert!((Frames::default().aim_s(100.0, None) - 100.0).abs() < 0.001);
        assert!((frames.step_s(begins(30), 1.0) / LENGTH_S - 31.5).abs() < 0.03);
        assert!((frames.step_s(begins(30), -1.0) / LENGTH_S - 29.5).abs() < 0.03);
    }

    #[test]
    fn nonsense_teaches_nothing() {
        let mut frames = Frames::default();
        for (first, second) in [(1.0, 1.0), (1.0, 0.9), (f64::NAN, 1.0), (0.0, f64::INFINITY)] {
            frames.neighbours(first, second);
            frames.saw(second);
        }
        assert_eq!(frames, Frames::default());
        let mut frames = learnt([]);
        frames.saw(f64::NAN);
        assert_eq!(frames, learnt([]));
    }
}
