//! The stretch of time in view.

/// Shortest stretch that can be shown, s.
const SHORTEST_S: f64 = 0.05;

/// A stretch of the run, s.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct View {
    pub start_s: f64,
    pub end_s: f64,
}

impl View {
    /// A stretch of the run, as far as it can be shown.
    pub fn of(start_s: f64, end_s: f64, whole: Self) -> Self {
        let middle_s = (start_s + end_s) / 2.0;
        let half_s = (end_s - start_s).max(SHORTEST_S) / 2.0;
        Self { start_s: middle_s - half_s, end_s: middle_s + half_s }.within(whole)
    }

    pub fn span_s(self) -> f64 {
        self.end_s - self.start_s
    }

    /// Time at a place across the picture, 0 left .. 1 right.
    pub fn time_s(self, place: f64) -> f64 {
        self.start_s + place * self.span_s()
    }

    /// Place of a time across the picture.
    pub fn place(self, t_s: f64) -> f64 {
        (t_s - self.start_s) / self.span_s()
    }

    /// Shows `factor` times the stretch, the time at `place` staying where it is.
    pub fn zoomed(self, factor: f64, place: f64, whole: Self) -> Self {
        let span = (self.span_s() * factor).clamp(SHORTEST_S.min(whole.span_s()), whole.span_s());
        let start_s = self.time_s(place) - place * span;
        Self { start_s, end_s: start_s + span }.within(whole)
    }

    /// Moved along time.
    pub fn panned(self, by_s: f64, whole: Self) -> Self {
        Self { start_s: self.start_s + by_s, end_s: self.end_s + by_s }.within(whole)
    }

    /// Moved just enough that a time is in view.
    pub fn showing(self, t_s: f64, whole: Self) -> Self {
        if (self.start_s..=self.end_s).contains(&t_s) {
            self
        } else {
            self.panned(t_s - self.span_s() / 2.0 - self.start_s, whole)
        }
    }

    fn within(self, whole: Self) -> Self {
        let span = self.span_s().min(whole.span_s());
        let start_s = self.start_s.clamp(whole.start_s, whole.end_s - span);
        Self { start_s, end_s: start_s + span }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const WHOLE: View = View { start_s: 10.0, end_s: 110.0 };

    #[test]
    fn zoom_keeps_the_time_under_the_pointer() {
        let zoomed = WHOLE.zoomed(0.1, 0.3, WHOLE);
        assert!((zoomed.time_s(0.3) - WHOLE.time_s(0.3)).abs() < 1e-9);
        assert!((zoomed.span_s() - 10.0).abs() < 1e-9);
        assert_eq!(zoomed.zoomed(1e9, 0.9, WHOLE), WHOLE);
        assert!(zoomed.zoomed(1e-9, 0.5, WHOLE).span_s() >= SHORTEST_S - 1e-9);
    }

    #[test]
    fn pan_stops_at_the_ends() {
        let zoomed = WHOLE.zoomed(0.1, 0.0, WHOLE);
        assert_eq!(zoomed.panned(-5.0, WHOLE), zoomed);
        assert_eq!(zoomed.panned(1e6, WHOLE).end_s, 110.0);
        assert_eq!(WHOLE.panned(3.0, WHOLE), WHOLE);
        let shown = zoomed.showing(77.0, WHOLE);
        assert!((shown.place(77.0) - 0.5).abs() < 1e-9);
    }
}
