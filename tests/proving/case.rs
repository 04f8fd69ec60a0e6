//! The conditions that landfalls are made under.

/// One standard deviation of a range, nautical miles, and of a bearing, degrees, as the solver is
/// told.
pub const RANGE_NM: f64 = 0.2;
pub const BEARING_DEG: f64 = 1.0;
/// Of the error that all bearings share.
pub const BIAS_DEG: f64 = 1.5;
/// Of each charted point, and of the whole chart.
pub const POINT_NM: f64 = 0.10;
pub const SHIFT_NM: f64 = 0.05;
/// Of track and speed, where the contacts are spread over some minutes.
pub const TRACK_DEG: f64 = 3.0;
pub const SPEED_KN: f64 = 5.0;

/// What is measured of an echo.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measured {
    /// Range and bearing of its leading edge; of some islets the middle.
    Edges,
    /// The same, with tangents among them, and a range of the nearest shore.
    Mixed,
    /// Ranges alone.
    Ranges,
    /// Bearings alone.
    Bearings,
}

/// The set in use and where it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Carried {
    pub set: &'static str,
    pub height_ft: f64,
    /// The scale in use, nautical miles.
    pub reach_nm: f64,
    /// The nearest coast lies between these, nautical miles.
    pub off_nm: [f64; 2],
}

pub const PATROL: Carried =
    Carried { set: "patrol", height_ft: 2_000.0, reach_nm: 40.0, off_nm: [4.0, 22.0] };
pub const BOAT: Carried =
    Carried { set: "boat", height_ft: 50.0, reach_nm: 12.0, off_nm: [1.5, 7.0] };

impl Carried {
    /// Whether echoes show on a range trace, and not on a picture.
    pub fn has_trace(&self) -> bool {
        self.set == "metric"
    }
}

/// A set with two fixed lobes and a range trace.
pub const METRIC: Carried =
    Carried { set: "metric", height_ft: 3_000.0, reach_nm: 30.0, off_nm: [4.0, 18.0] };

/// One set of conditions.
#[derive(Debug, Clone, PartialEq)]
pub struct Case {
    pub name: String,
    pub carried: Carried,
    pub contacts: usize,
    /// Of the reckoning, nautical miles on each axis.
    pub reckoning_nm: f64,
    /// The share of contacts that are ships.
    pub ships: f64,
    /// The share of real contacts that the operator names wrongly, and rightly.
    pub wrong_names: f64,
    pub right_names: f64,
    pub measured: Measured,
    /// What stands out less than this from the coast about it is not measured, nautical miles.
    pub least_out_nm: f64,
    /// The contacts are taken over so many minutes; none for all at one time.
    pub minutes: f64,
    /// Every error is so many times what the solver is told.
    pub truth_times: f64,
    /// The whole chart is off by this besides, nautical miles.
    pub shifted_nm: f64,
    /// The last contact is the first once more.
    pub repeats: bool,
    /// The truth is so many sigmas from the reckoning on a random side, in place of a normal draw.
    pub outside: Option<[f64; 2]>,
    /// The probability that a fix must hold.
    pub assurance: f64,
}

impl Case {
    /// Unnamed contacts of a patrol aircraft, fifteen of a hundred of them ships.
    pub fn new(contacts: usize, reckoning_nm: f64) -> Self {
        Self {
            name: format!("k{contacts}-dr{reckoning_nm:.0}"),
            carried: PATROL,
            contacts,
            reckoning_nm,
            ships: 0.15,
            wrong_names: 0.0,
            right_names: 0.0,
            measured: Measured::Edges,
            least_out_nm: 0.4,
            minutes: 0.0,
            truth_times: 1.0,
            shifted_nm: 0.0,
            repeats: false,
            outside: None,
            assurance: 0.99,
        }
    }

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

    /// How many landfalls it has for each of another: what is aimed at is to be known best.
    pub fn parts(&self) -> usize {
        if design().iter().any(|case| case.name == self.name) { 3 } else { 1 }
    }

    /// Whether an ideal reader can tell what to make of it: unnamed contacts taken at one time.
    pub fn can_be_read_ideally(&self) -> bool {
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
