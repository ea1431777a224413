//! Samples in few bytes: steps of a quantum, told from the one before, each an unsigned LEB128 number.
//!
//! 0 is a missing sample; else the number less one is the zigzag of the difference in steps (0, -1, 1, -2, 2 ...).

/// Steps fit in this, so that a number of steps is exact in any of the types they pass through.
pub const MOST_STEPS: f64 = (1_i64 << 30) as f64;

pub fn write_unsigned(mut number: u64, bytes: &mut Vec<u8>) {
    while number >= 0x80 {
        bytes.push(number as u8 | 0x80);
        number >>= 7;
    }
    bytes.push(number as u8);
}

pub fn read_unsigned(bytes: &mut &[u8]) -> Option<u64> {
    let mut number = 0;
    for shift in (0..63).step_by(7) {
        let (&byte, rest) = bytes.split_first()?;
        *bytes = rest;
        number |= u64::from(byte & 0x7f) << shift;
        if byte < 0x80 {
            return Some(number);
        }
    }
    None
}

/// Writes samples to the nearest step; one that is not finite is missing.
pub fn write(samples: &[f32], quantum: f64, bytes: &mut Vec<u8>) {
    let mut before = 0_i64;
    for &sample in samples {
        if sample.is_finite() {
            let steps = (f64::from(sample) / quantum).round() as i64;
            let difference = steps - before;
            write_unsigned(((difference << 1) ^ (difference >> 63)) as u64 + 1, bytes);
            before = steps;
        } else {
            write_unsigned(0, bytes);
        }
    }
}

/// Reads so many samples; `None` where there are fewer, or one is no number of steps that is ever written.
pub fn read(count: usize, quantum: f64, bytes: &mut &[u8]) -> Option<Vec<f32>> {
    // Each takes a byte at least: a count that is too high asks for no memory.
    let mut samples = Vec::with_capacity(count.min(bytes.len()));
    let mut before = 0_i64;
    for _ in 0..count {
        let sample = match read_unsigned(bytes)?.checked_sub(1) {
            None => f32::NAN,
            Some(zigzag) => {
                let difference = (zigzag >> 1) as i64 ^ -((zigzag & 1) as i64);
                before = before.checked_add(difference).filter(|steps| steps.abs() as f64 <= MOST_STEPS)?;
                (before as f64 * quantum) as f32
            }
        };
        samples.push(sample);
    }
    Some(samples)
}
