use foreland::chart::Chart;
use foreland::drill::{LESSONS, reader, score};

#[test]
fn try_all() {
    let chart = Chart::sample().unwrap();
    let seeds: Vec<u64> = std::env::var("SEEDS")
        .unwrap_or("1".into())
        .split(',')
        .map(|s| s.parse().unwrap())
        .collect();
    let only: Option<usize> = std::env::var("LESSON").ok().map(|s| s.parse().unwrap());
    for lesson in LESSONS.iter().filter(|l| only.is_none_or(|o| o == l.number)) {
        for seed in &seeds {
            let exercise = lesson.exercise(*seed).unwrap();
            let scans: Vec<_> =
                (0..exercise.scans).map(|n| exercise.scan(&chart, n).unwrap()).collect();
            let answer = reader::answer(&chart, &exercise, &scans);
            let s = score(&chart, &exercise, &answer);
            println!(
                "{} {} seed {seed}: {} err {:?} poss {:.2} names {}/{} wrong {:?} landfall {} {}",
                lesson.number,
                lesson.title,
                s.score,
                s.error.map(|e| e.nautical_miles()),
                s.possible.nautical_miles(),
                s.names_right,
                s.names,
                s.names_wrong,
                answer.declared.landfall.as_str(),
                s.landfall_right
            );
            if only.is_some() {
                println!("truth {} dr {}", s.truth, exercise.reckoning.position);
                for p in &s.parts {
                    println!("   {:6.1} {}", p.points, p.what);
                }
                for scan in &scans {
                    println!(
                        " scan {} hdg {:.1} bank {:.1}",
                        scan.time,
                        scan.heading.degrees(),
                        scan.bank.degrees()
                    );
                    for e in reader::echoes(scan, exercise.set.beam_width_deg, 0.08) {
                        println!("    {e:?}");
                    }
                }
                for c in &answer.sightings.contacts {
                    println!(
                        "  {} {:?} {:?} {:?}",
                        c.label,
                        c.range.map(|r| r.nautical_miles()),
                        c.bearings().iter().map(|b| b.0.degrees()).collect::<Vec<_>>(),
                        c.belief
                    );
                }
                let f = foreland::fix::fix(&chart, &answer.sightings, &Default::default());
                println!("{:?} {:?} {:?}", f.verdict, f.landfall, f.cautions);
            }
        }
    }
}
