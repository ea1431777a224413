//! Values as colours that everyone can tell apart: lightness rises with the value.

/// The map cividis at equal steps, red, green, blue (Nuñez, Anderton and Renslow 2018, PLoS ONE 13(7):e0199239): nearly
/// the same to people with and without a colour vision deficiency, and even in lightness, so that it reads in grey
/// too.
const CIVIDIS: [[u8; 3]; 17] = [
    [0, 34, 78],
    [0, 46, 106],
    [26, 56, 111],
    [50, 67, 109],
    [67, 78, 108],
    [83, 90, 109],
    [97, 101, 111],
    [111, 112, 115],
    [125, 124, 120],
    [140, 136, 120],
    [155, 148, 118],
    [171, 160, 114],
    [188, 174, 108],
    [205, 187, 99],
    [222, 201, 88],
    [240, 216, 70],
    [254, 232, 56],
];

/// So many colours are told apart.
pub const COLOURS: usize = CIVIDIS.len();

/// The colour of a value, 0 lowest .. 1 highest.
pub fn index(share: f64) -> usize {
    (share.clamp(0.0, 1.0) * (COLOURS - 1) as f64).round() as usize
}

/// A colour as CSS writes it.
pub fn css(index: usize) -> String {
    let [red, green, blue] = CIVIDIS[index.min(COLOURS - 1)];
    format!("rgb({red},{green},{blue})")
}

/// All of them from left to right.
pub fn gradient() -> String {
    let colours: Vec<String> = (0..COLOURS).map(css).collect();
    format!("linear-gradient(to right,{})", colours.join(","))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// CIE 1976 lightness of an sRGB colour (IEC 61966-2-1, ISO/CIE 11664-4).
    fn lightness([red, green, blue]: [u8; 3]) -> f64 {
        let linear = |channel: u8| {
            let value = f64::from(channel) / 255.0;
            if value <= 0.04045 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
        };
        let y = 0.2126 * linear(red) + 0.7152 * linear(green) + 0.0722 * linear(blue);
        if y > 0.008856 { 116.0 * y.cbrt() - 16.0 } else { 903.3 * y }
    }

    #[test]
    fn lightness_rises_evenly_with_the_value() {
        let steps: Vec<f64> =
            CIVIDIS.windows(2).map(|pair| lightness(pair[1]) - lightness(pair[0])).collect();
        let mean = steps.iter().sum::<f64>() / steps.len() as f64;
        assert!(mean > 4.0, "{mean}");
        assert!(steps.iter().all(|step| (step / mean - 1.0).abs() < 0.35), "{steps:?}");
    }

    #[test]
    fn values_beyond_the_ends_have_the_colours_of_the_ends() {
        assert_eq!([-1.0, 0.0, 0.5, 1.0, 7.0].map(index), [0, 0, 8, 16, 16]);
        assert_eq!(css(16), "rgb(254,232,56)");
    }
}
