//! The extremes of numbers, four by four, which the compiler turns into one instruction each. One by one they
//! would be branches that no processor can foretell.

/// Of all numbers added; NaN compares as false and is passed over.
#[derive(Clone, Copy)]
pub struct Extremes {
    low: [f32; 4],
    high: [f32; 4],
}

impl Extremes {
    pub const NONE: Self = Self { low: [f32::INFINITY; 4], high: [f32::NEG_INFINITY; 4] };

    pub fn of(numbers: &[f32]) -> Self {
        let mut found = Self::NONE;
        found.add(numbers);
        found
    }

    // Into registers at every place it is called from.
    #[inline(always)]
    pub fn add(&mut self, numbers: &[f32]) {
        if let Some(last) = numbers.last_chunk::<4>() {
            // Some are added twice, which changes nothing.
            numbers.as_chunks::<4>().0.iter().chain([last]).for_each(|four| self.add_four(*four));
        } else {
            numbers.iter().for_each(|v| self.add_four([*v; 4]));
        }
    }

    #[inline(always)]
    fn add_four(&mut self, four: [f32; 4]) {
        self.low = lower(self.low, four);
        self.high = higher(self.high, four);
    }

    /// Lowest and highest of each of four; the lowest is above the highest where nothing was added.
    #[inline]
    pub fn ends(four: &[Self; 4]) -> [[f32; 4]; 2] {
        let low = |lane| four.map(|found| found.low[lane]);
        let high = |lane| four.map(|found| found.high[lane]);
        [
            lower(lower(low(0), low(1)), lower(low(2), low(3))),
            higher(higher(high(0), high(1)), higher(high(2), high(3))),
        ]
    }
}

/// The lower of each two; the first if the second is NaN.
#[inline]
pub fn lower(a: [f32; 4], b: [f32; 4]) -> [f32; 4] {
    std::array::from_fn(|i| if b[i] < a[i] { b[i] } else { a[i] })
}

/// The higher of each two; the first if the second is NaN.
#[inline]
pub fn higher(a: [f32; 4], b: [f32; 4]) -> [f32; 4] {
    std::array::from_fn(|i| if b[i] > a[i] { b[i] } else { a[i] })
}
