//! Where the sections' names stand beside the track, so that they cover neither it nor each other.

use super::frame::WIDTH;

/// Height of a name, and width of a letter of a wide type, at the size of the names.
const LINE: f64 = 12.0;
const LETTER: f64 = 6.3;
/// No name is longer in the picture, in letters.
const LONGEST: usize = 20;
/// How far from the track a name is tried, nearest first.
const DISTANCES: [f64; 5] = [11.0, 20.0, 32.0, 46.0, 62.0];
/// Directions in which it is tried; to the side of the track a name ends or begins where it faces it.
const DIRECTIONS: [[f64; 2]; 10] = [
    [0.0, -1.0],
    [0.0, 1.0],
    [1.0, 0.0],
    [-1.0, 0.0],
    [0.7, -0.7],
    [-0.7, -0.7],
    [0.7, 0.7],
    [-0.7, 0.7],
    [-0.9, 0.4],
    [-0.9, -0.4],
];

/// A name and the place on the track that it belongs to.
#[derive(Clone, Debug, PartialEq)]
pub struct Name {
    pub text: String,
    /// Where the name begins, on its base line.
    pub at: [f64; 2],
    /// From the track to the name.
    pub leader: [[f64; 2]; 2],
}

/// A box in the picture: left, top, right, bottom.
pub type Area = [f64; 4];

/// Places names, given with the middle of their section, in order; one that finds no room is left out.
pub fn place(wanted: &[(String, [f64; 2])], track: &[[f64; 2]], taken: &[Area], height: f64) -> Vec<Name> {
    let mut taken = taken.to_vec();
    let mut placed = Vec::with_capacity(wanted.len());
    for (name, middle) in wanted {
        let text = short(name);
        let width = text.chars().count() as f64 * LETTER;
        let tried = DISTANCES.iter().flat_map(|far| DIRECTIONS.map(|[x, y]| (*far, [x * far, y * far])));
        let best = tried
            .filter_map(|(far, [dx, dy])| {
                let aside = if dx == 0.0 { 0.0 } else { width / 2.0 * dx.signum() };
                let centre = [middle[0] + dx + aside, middle[1] + dy];
                let area = [
                    centre[0] - width / 2.0 - 2.0,
                    centre[1] - LINE / 2.0,
                    centre[0] + width / 2.0 + 2.0,
                    centre[1] + LINE / 2.0,
                ];
                let inside = area[0] >= 0.0 && area[1] >= 0.0 && area[2] <= WIDTH && area[3] <= height;
                if !inside || taken.iter().any(|other| overlap(area, *other)) {
                    return None;
                }
                let covered = track.iter().filter(|point| contains(area, **point)).count();
                Some((covered as f64 * 6.0 + far, area))
            })
            .min_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((_, area)) = best {
            let nearest = [middle[0].clamp(area[0], area[2]), middle[1].clamp(area[1], area[3])];
            let at = [area[0] + 2.0, area[3] - 3.0];
            placed.push(Name { text, at, leader: [*middle, nearest] });
            taken.push(area);
        }
    }
    placed
}

fn short(name: &str) -> String {
    if name.chars().count() <= LONGEST {
        return name.to_owned();
    }
    name.chars().take(LONGEST - 1).chain(std::iter::once('…')).collect()
}

fn overlap(a: Area, b: Area) -> bool {
    a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3]
}

pub fn contains(area: Area, [x, y]: [f64; 2]) -> bool {
    (area[0]..=area[2]).contains(&x) && (area[1]..=area[3]).contains(&y)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn area(name: &Name) -> Area {
        let width = name.text.chars().count() as f64 * LETTER;
        [name.at[0], name.at[1] + 3.0 - LINE, name.at[0] + width, name.at[1] + 3.0]
    }

    #[test]
    fn names_cover_neither_the_track_nor_each_other() {
        let track: Vec<[f64; 2]> = (0..=320).map(|x| [25.0 + f64::from(x), 100.0]).collect();
        let wanted: Vec<_> =
            (0..6).map(|k| (format!("Rock garden {k}"), [50.0 + 50.0 * f64::from(k), 100.0])).collect();
        let taken = [[0.0, 180.0, 90.0, 200.0]];
        let names = place(&wanted, &track, &taken, 200.0);
        assert_eq!(names.len(), 6);
        for (n, name) in names.iter().enumerate() {
            assert!(!track.iter().any(|point| contains(area(name), *point)), "{name:?}");
            assert!(!overlap(area(name), taken[0]));
            assert!(!names[..n].iter().any(|other| overlap(area(name), area(other))), "{name:?}");
            let [x, y] = name.at;
            assert!(x >= 0.0 && y <= 200.0 && area(name)[2] <= WIDTH);
        }
    }

    #[test]
    fn a_name_without_room_is_left_out_and_a_long_one_cut() {
        let everywhere = [[0.0, 0.0, WIDTH, 200.0]];
        assert!(place(&[("Roots".to_owned(), [100.0, 100.0])], &[], &everywhere, 200.0).is_empty());
        let names =
            place(&[("A name far too long for a picture".to_owned(), [180.0, 100.0])], &[], &[], 200.0);
        assert_eq!(names[0].text, "A name far too long…");
    }
}
