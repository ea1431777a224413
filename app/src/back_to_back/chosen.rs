//! What is compared: two set-ups of the day, and a run of each.

use evenkeel_core::Day;
use evenkeel_core::setup::RiddenSetup;
use leptos::prelude::*;

use crate::store::Store;

/// What was chosen here; it stays while other places are visited.
#[derive(Clone, Copy)]
pub struct Chosen {
    /// A and B, each by the first run with it; none while the last change is meant.
    pub setups: RwSignal<Option<[usize; 2]>>,
    /// The runs that are laid over each other; none while the last ones of A and B are meant.
    pub runs: RwSignal<Option<[usize; 2]>>,
    /// The section that the pictures show; none is the whole track.
    pub stretch: RwSignal<Option<String>>,
    /// Which traces are laid over each other, by key.
    pub traces: RwSignal<[String; 2]>,
    /// Where the cursor stands, m along the track.
    pub place_m: RwSignal<f64>,
}

impl Default for Chosen {
    fn default() -> Self {
        Self {
            setups: RwSignal::default(),
            runs: RwSignal::default(),
            stretch: RwSignal::default(),
            traces: RwSignal::new(["travel front", "travel rear"].map(str::to_owned)),
            place_m: RwSignal::default(),
        }
    }
}

/// The set-ups of the day, and the two of them that are compared.
#[derive(Clone, Debug, PartialEq)]
pub struct Pair {
    pub all: Vec<RiddenSetup>,
    /// Places among `all` of A and B; none where only one set-up was ridden.
    pub compared: Option<[usize; 2]>,
}

impl Pair {
    fn of(day: &Day, chosen: Option<[usize; 2]>) -> Self {
        let all = day.ridden_setups();
        let place = |first: usize| all.iter().position(|setup| setup.runs.first() == Some(&first));
        let chosen = chosen.and_then(|[a, b]| Some([place(a)?, place(b)?])).filter(|[a, b]| a != b);
        let compared = chosen.or_else(|| day.last_change());
        Self { all, compared }
    }

    /// A and B.
    pub fn setups(&self) -> Option<[&RiddenSetup; 2]> {
        let [a, b] = self.compared?;
        Some([self.all.get(a)?, self.all.get(b)?])
    }
}

/// The pair that is compared now.
pub fn pair(store: Store) -> Memo<Pair> {
    Memo::new(move |_| {
        let chosen = store.compared.setups.get();
        store.day.with(|day| Pair::of(day, chosen))
    })
}

/// The two runs that are laid over each other: those chosen, else the last of A and of B, else the day's last two.
pub fn laid_runs(store: Store, pair: Memo<Pair>) -> Memo<Option<[usize; 2]>> {
    Memo::new(move |_| {
        let count = store.day.with(|day| day.runs.len());
        let chosen = store.compared.runs.get().filter(|runs| runs.iter().all(|run| *run < count));
        let last = |setup: &RiddenSetup| setup.runs.last().copied();
        chosen
            .or_else(|| pair.with(|pair| pair.setups().and_then(|[a, b]| Some([last(a)?, last(b)?]))))
            .or_else(|| Some([count.checked_sub(2)?, count - 1]))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_choice_that_is_gone_gives_way_to_the_last_change() {
        let mut day = Day::default();
        for run in 0..3 {
            day.start_run(format!("Run {run}"), evenkeel_core::Log::default());
        }
        // No sheet says anything: every run stands alone.
        assert_eq!(Pair::of(&day, None).compared, Some([1, 2]));
        assert_eq!(Pair::of(&day, Some([2, 0])).compared, Some([2, 0]));
        assert_eq!(Pair::of(&day, Some([0, 7])).compared, Some([1, 2]));
        assert_eq!(Pair::of(&day, Some([1, 1])).compared, Some([1, 2]));
        assert_eq!(Pair::of(&Day::default(), None).setups(), None);
    }
}
