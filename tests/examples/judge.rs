use evenkeel_core::findings::{Baseline, FindingKind, FindingSettings, findings};
use evenkeel_core::{Day, RunReadout};
use std::collections::BTreeMap;

fn name(f: &evenkeel_core::findings::Finding) -> String {
    let kind = match (&f.doubt, f.kind) {
        (Some(d), _) => match serde_json::to_value(&d.doubt).unwrap() {
            serde_json::Value::String(n) => n,
            o => o.as_object().unwrap().keys().next().unwrap().clone(),
        },
        (_, k) => serde_json::to_value(k).unwrap().as_str().unwrap().to_owned(),
    };
    let end = f.end.map_or("-", |e| e.name());
    let _ = FindingKind::Shakes;
    format!("{kind}@{end}")
}
fn main() {
    let args: Vec<String> = std::env::args().collect();
    let splits = &args[1];
    let with = args[2] == "with";
    let verbose = args.get(3);
    let dir = "/tmp/ev/find-scratch";
    let mut table: BTreeMap<String, BTreeMap<String, usize>> = BTreeMap::new();
    let mut ok: BTreeMap<String, (usize, usize)> = BTreeMap::new();
    let mut names: Vec<_> =
        std::fs::read_dir(dir).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    for file in names.iter().filter(|n| n.ends_with(".json") && !n.contains("-day") && !n.contains("-first"))
    {
        let parts: Vec<&str> = file.trim_end_matches(".json").splitn(3, '-').collect();
        if parts.len() < 3 || !splits.contains(parts[0]) {
            continue;
        }
        let read = |n: String| -> RunReadout {
            fn fix(v: &mut serde_json::Value) {
                match v {
                    serde_json::Value::Object(o) => {
                        for (k, x) in o.iter_mut() {
                            if k == "turn_rad" && x.is_null() {
                                *x = 0.0.into();
                            }
                            fix(x)
                        }
                    }
                    serde_json::Value::Array(a) => a.iter_mut().for_each(fix),
                    _ => {}
                }
            }
            let mut v: serde_json::Value =
                serde_json::from_slice(&std::fs::read(format!("{dir}/{n}")).unwrap()).unwrap();
            v.as_object_mut().unwrap().remove("findings");
            fix(&mut v);
            serde_json::from_value(v).unwrap()
        };
        let mut first = read(format!("{}-{}-first.json", parts[0], parts[1]));
        first.name = "first".into();
        let day: Day = serde_json::from_slice(
            &std::fs::read(format!("{dir}/{}-{}-day.json", parts[0], parts[1])).unwrap(),
        )
        .unwrap();
        let mut run = read(file.clone());
        run.name = "later".into();
        let settings = FindingSettings {
            baseline: if with { Baseline::of_readouts([&first]) } else { Baseline::default() },
            ..Default::default()
        };
        let found = findings(&run, &day.bike, &settings);
        let got = found.first().map_or("nothing".to_owned(), name);
        let f: Vec<&str> = parts[2].split('-').collect();
        let want = if f[0] == "healthy" {
            "nothing".to_owned()
        } else {
            let kind =
                evenkeel_demo_data::fault::Kind::ALL.into_iter().find(|k| format!("{k:?}") == f[0]).unwrap();
            format!(
                "{}@{}",
                kind.finding(),
                match f[1] {
                    "Front" => "front",
                    "Rear" => "rear",
                    _ => "-",
                }
            )
        };
        if let Some(pat) = verbose {
            if file.contains(pat.as_str()) || (pat == "wrong" && got != want) {
                println!("{file}: {}", found.iter().map(name).collect::<Vec<_>>().join(", "));
                if args.len() > 4 {
                    for f in &found {
                        println!(
                            "   {:?} {}\n      {}\n      {:?}",
                            f.confidence.level,
                            f.statement,
                            f.advice.step.words(),
                            f.evidence
                                .iter()
                                .map(|e| format!("{}={}{:?}", e.what, e.shown(), e.interval))
                                .collect::<Vec<_>>()
                        );
                    }
                }
            }
        }
        let e = ok.entry(parts[2].to_owned()).or_default();
        e.1 += 1;
        if got == want {
            e.0 += 1;
        }
        *table.entry(parts[2].to_owned()).or_default().entry(got).or_default() += 1;
    }
    for (k, row) in &table {
        let (a, b) = ok[k];
        println!(
            "{k:34} {a}/{b}  {}",
            row.iter().map(|(g, n)| format!("{g}:{n}")).collect::<Vec<_>>().join("  ")
        );
    }
}
