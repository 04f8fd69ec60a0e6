//! The conditions that the campaign makes landfalls under.

pub use foreland::campaign::case::*;

/// A case by what is other than in [`Case::new`], and what is asked of it.
pub trait Conditions: Sized {
    fn called(self, name: &str) -> Self;
    fn ships(self, ships: f64) -> Self;
    fn aboard(self, carried: Carried) -> Self;
    fn named(self, right_names: f64, wrong_names: f64) -> Self;
    fn measuring(self, measured: Measured, name: &str) -> Self;
    fn asked(self, assurance: f64) -> Self;
    /// How many landfalls it has for each of another: what is aimed at is to be known best.
    fn parts(&self) -> usize;
    /// Whether an ideal reader can tell what to make of it: unnamed contacts taken at one time.
    fn can_be_read_ideally(&self) -> bool;
    fn over(self, minutes: f64) -> Self;
}

impl Conditions for Case {
    fn called(self, name: &str) -> Self {
        Self { name: format!("{name}-{}", self.name), ..self }
    }

    fn ships(self, ships: f64) -> Self {
        Self { ships, ..self }.called(&format!("ships{:.0}", 100.0 * ships))
    }

    fn aboard(self, carried: Carried) -> Self {
        Self { carried, ..self }.called(carried.set)
    }

    fn named(self, right_names: f64, wrong_names: f64) -> Self {
        let name = format!("named{:.0}-wrong{:.0}", 100.0 * right_names, 100.0 * wrong_names);
        Self { wrong_names, right_names, ..self }.called(&name)
    }

    fn measuring(self, measured: Measured, name: &str) -> Self {
        Self { measured, ..self }.called(name)
    }

    fn asked(self, assurance: f64) -> Self {
        Self { assurance, ..self }.called(&format!("asked{assurance}"))
    }

    fn parts(&self) -> usize {
        if design().iter().any(|case| case.name == self.name) { 3 } else { 1 }
    }

    fn can_be_read_ideally(&self) -> bool {
        self.minutes <= 0.0
            && !self.carried.has_trace()
            && self.right_names + self.wrong_names <= 0.0
    }

    fn over(self, minutes: f64) -> Self {
        Self { minutes, ..self }.called(&format!("over{minutes:.0}min"))
    }
}

/// The cells that the identification was designed by.
pub fn design() -> Vec<Case> {
    [20.0, 5.0]
        .into_iter()
        .flat_map(|sigma| [4, 5, 6, 8].map(|contacts| Case::new(contacts, sigma)))
        .collect()
}

/// All others of the campaign.
pub fn wider() -> Vec<Case> {
    let mut cases: Vec<Case> = Vec::new();
    for sigma in [2.0, 10.0] {
        cases.extend([2, 3, 4, 5, 6, 8].map(|contacts| Case::new(contacts, sigma)));
    }
    for sigma in [5.0, 20.0] {
        cases.extend([2, 3].map(|contacts| Case::new(contacts, sigma)));
    }
    cases.extend([0.0, 0.3].map(|ships| Case::new(5, 10.0).ships(ships)));
    cases.extend([3, 4, 5].map(|contacts| Case::new(contacts, 5.0).aboard(BOAT)));
    cases.extend(
        [(0.0, 0.1), (0.0, 0.2), (0.5, 0.0), (0.8, 0.2)]
            .map(|(right, wrong)| Case::new(5, 10.0).named(right, wrong)),
    );
    cases.push(Case::new(3, 5.0).named(0.8, 0.2));
    cases.push(Case::new(5, 10.0).over(10.0));
    cases.push(Case::new(6, 10.0).measuring(Measured::Mixed, "mixed"));
    cases.push(Case::new(6, 10.0).measuring(Measured::Ranges, "ranges"));
    cases.push(Case::new(6, 10.0).measuring(Measured::Bearings, "bearings"));
    cases.push(Case { least_out_nm: 0.2, ..Case::new(6, 10.0) }.called("slack"));
    // Added later.
    cases.extend([7].map(|contacts| Case::new(contacts, 10.0)));
    cases.extend([0.0, 0.3].map(|ships| Case::new(6, 5.0).ships(ships)));
    cases.extend([0.0, 0.3].map(|ships| Case::new(6, 20.0).ships(ships)));
    cases.extend([4, 6].map(|contacts| Case::new(contacts, 2.0).aboard(BOAT)));
    cases.extend([4, 5, 6].map(|contacts| Case::new(contacts, 5.0).aboard(METRIC)));
    cases.push(Case::new(6, 5.0).named(0.8, 0.1));
    cases.push(Case::new(4, 5.0).named(0.9, 0.1));
    cases.extend([4, 6].map(|contacts| Case::new(contacts, 5.0).over(10.0)));
    cases.push(Case::new(6, 5.0).measuring(Measured::Mixed, "mixed"));
    cases.push(Case::new(6, 5.0).measuring(Measured::Ranges, "ranges"));
    cases.push(Case::new(6, 5.0).measuring(Measured::Bearings, "bearings"));
    cases.extend([0.9, 0.999, 0.9999].map(|asked| Case::new(6, 5.0).asked(asked)));
    cases.extend([0.9, 0.999, 0.9999].map(|asked| Case::new(8, 20.0).asked(asked)));
    cases
}

/// Cases in which something is other than the solver is told.
pub fn stress() -> Vec<Case> {
    let base = || Case::new(6, 10.0);
    vec![
        Case { truth_times: 2.0, ..base() }.called("errors-twice"),
        Case { shifted_nm: 0.5, ..base() }.called("chart-shifted"),
        Case { outside: Some([3.0, 6.0]), ..Case::new(5, 5.0) }.called("outside"),
        Case { ships: 1.0, ..Case::new(5, 10.0) }.called("all-ships"),
        Case { ships: 1.0, ..Case::new(4, 5.0) }.called("all-ships"),
        Case { ships: 0.0, ..Case::new(1, 5.0) }.called("alone"),
        Case { ships: 0.0, repeats: true, ..Case::new(2, 5.0) }.called("repeated"),
    ]
}

/// Every case, in the order of their numbers: new ones go to the end of their list.
pub fn all() -> Vec<(usize, Case)> {
    let lists = [design(), wider(), stress()];
    let numbered = |(list, cases): (usize, Vec<Case>)| {
        cases.into_iter().enumerate().map(move |(number, case)| (100 * list + number, case))
    };
    lists.into_iter().enumerate().flat_map(numbered).collect()
}
