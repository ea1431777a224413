//! Remarks merge: whoever sends what to whom, in whatever order, nothing is lost or written over.

use evenkeel_core::handover::{DayFile, Remarks};
use evenkeel_tests::odd::Odd;

fn merged(a: &Remarks, b: &Remarks) -> Remarks {
    let mut both = a.clone();
    both.merge(b);
    both
}

#[test]
fn merging_is_a_union() {
    for seed in 0..500 {
        let mut odd = Odd::new(seed);
        let [a, b, c] = [odd.remarks(), odd.remarks(), odd.remarks()];
        let all = merged(&merged(&a, &b), &c);
        assert_eq!(merged(&a, &b), merged(&b, &a), "order does not matter");
        assert_eq!(all, merged(&a, &merged(&b, &c)), "nor does who meets first");
        assert_eq!(merged(&all, &b), all, "nor how often");
        for remark in a.iter().chain(b.iter()).chain(c.iter()) {
            assert!(all.iter().any(|kept| kept == remark), "nothing is lost");
        }
        assert!(
            all.iter().all(|kept| [&a, &b, &c].iter().any(|set| set.iter().any(|remark| remark == kept)))
        );
    }
}

#[test]
fn two_remarks_that_share_an_id_are_both_kept() {
    let mut odd = Odd::new(1);
    let first = odd.remark();
    let mut second = first.clone();
    second.words += " - altered on the way";
    let (mine, theirs): (Remarks, Remarks) = ([first].into_iter().collect(), [second].into_iter().collect());
    let mut both = mine.clone();
    assert_eq!((both.merge(&theirs), both.merge(&theirs), both.iter().len()), (1, 0, 2));
}

/// The whole way: the owner's file, a coach's copy of it, and back.
#[test]
fn remarks_go_there_and_back_in_day_files() {
    for seed in 0..60 {
        let mut odd = Odd::new(seed);
        let owner = odd.day_file();
        let sent = DayFile { copy: true, ..owner.clone() };
        let mut coach = DayFile::read(&sent.write().unwrap()).unwrap();
        assert!(coach.copy);
        let added = odd.remark();
        coach.remarks.add(added.clone());
        // Only the remarks travel back; the owner has gone on meanwhile.
        let back = DayFile { sources: Vec::new(), ..coach };
        let back = DayFile::read(&back.write().unwrap()).unwrap();
        let mut mine = DayFile { remarks: merged(&owner.remarks, &odd.remarks()), ..owner };
        let (before, day) = (mine.remarks.clone(), mine.day.clone());
        mine.take_remarks(&back).unwrap();
        assert!(mine.remarks.iter().any(|remark| *remark == added));
        assert!(before.iter().all(|remark| mine.remarks.iter().any(|kept| kept == remark)));
        assert_eq!(mine.day, day, "nothing but remarks came in");
    }
}

#[test]
fn remarks_on_another_day_are_refused() {
    let mut mine = DayFile { id: "one".to_owned(), ..DayFile::default() };
    let other = DayFile { id: "two".to_owned(), remarks: Odd::new(2).remarks(), ..DayFile::default() };
    let why = mine.take_remarks(&other).unwrap_err().to_string();
    assert!(why.contains("another day"), "{why}");
    assert!(mine.remarks.is_empty());
}
