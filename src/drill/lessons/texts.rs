//! What each lesson says: before, in three hints, and afterwards.

/// The words of one lesson.
#[derive(Debug, Clone, Copy)]
pub struct Text {
    /// The one thing it teaches, in a sentence.
    pub teaches: &'static str,
    /// Said before.
    pub before: &'static str,
    /// Given one at a time, each costing points.
    pub hints: [&'static str; 3],
    /// Said over the truth, afterwards.
    pub after: &'static str,
    /// Where a reader who takes the picture for the chart goes wrong.
    pub trap: &'static str,
}

pub const SLANT_RANGE: Text = Text {
    teaches: "A radar measures along the straight line to the echo, not along the sea.",
    before: "You are at 24,000 ft, off Harrow, with the coast ahead. Take three or four echoes, say which they are, and where you are. The ranges on the screen are slant ranges.",
    hints: [
        "At 24,000 ft you are 3.95 NM above the sea. An echo at 10 NM of slant range is 9.2 NM away on the chart; one at 5 NM is 3.1.",
        "Enter the ranges as they are read: the height turns them into distances on the chart. Never turn them by hand and enter them again.",
        "The islands to the north and south-east stand by themselves; the bold head in between is the landfall.",
    ],
    after: "Every range on the screen was longer than the distance on the chart, the near ones most: for the far ones by height squared over twice the range, near enough. Plotted as distances, echoes ahead put you short of your true place, on the side away from the coast.",
    trap: "takes slant range for distance",
};

pub const LOW_SHORE: Text = Text {
    teaches: "Sand does not paint: the first solid line may stand miles behind the beach.",
    before: "You close Long Strand, twelve miles of beach between Corbel Point and Lantern Point. Your \
             landfall is Lantern Point. Say where you are.",
    hints: [
        "A beach two metres high answers weakly: from 2,000 ft it is above the horizon, and still shows late and thin. From low down the sea's curve hides it too. Look for what stands at its ends, and off it.",
        "The hills behind the strand are charted as peaks. Take them for what they are, or leave them alone; they are not the shore.",
        "Little Ember is the strong small echo by itself. Lantern Point ends the strand to the south.",
    ],
    after: "Where the chart has twelve miles of shore the screen had little, and stronger ground miles beyond it. Whoever takes the ground for the shore is some ten miles nearer the beach than he thinks. What is charted and low is still there.",
    trap: "takes the hills for the shore",
};

pub const INLAND_GROUND: Text = Text {
    teaches: "From low down and far out, the first echo of land is high ground inland.",
    before: "You are low, at 250 ft, and more than forty miles out. The first echoes have just come; more will rise as you close. The landfall planned is Corbel Point. Is it in sight? Say where you are, as well as can be told.",
    hints: [
        "At 250 ft the horizon lies 19 NM away. What shows from beyond forty must itself be high: square roots of both heights in feet, times 1.23.",
        "Corbel Point is 243 ft high: it comes over the horizon at under 39 NM, not before.",
        "Name the echoes as the island and the peaks they are, and say \"denied\" or \"cannot-say\" of the landfall.",
    ],
    after: "The first echoes were Great Ember, 600 ft high, and the Varrow Hills, 2,000 ft, ten miles and more behind the shore. Corbel Point was below the horizon: no shore of the mainland showed. Ask of every first echo whether the shore itself could be above the horizon.",
    trap: "takes the first echo for the coast",
};

pub const BEAM_WIDTH: Text = Text {
    teaches: "The beam draws every echo broader by half its width on each side.",
    before: "You see the whole west coast from thirty miles. The beam is 2.4° wide. Where are you?",
    hints: [
        "At 40 NM a beam of 2.4° is 1.7 NM broad. Heads grow by half of that to each side, bays close, \
         and two islands become one.",
        "Read edges as edges (left, right), so that half the beam is taken off them. The middle of a \
         small echo, and the nearest point of a head, need nothing.",
        "Ranges are worth more than bearings here: Saddle Isle, Great Ember and Little Ember have three \
         good ones.",
    ],
    after: "The edges on the screen stood up to 1.2° outside those on the chart. A bearing of an edge, \
            taken as it is drawn, was out by most of a mile at forty; the nearest point and the middle of \
            a small echo were not.",
    trap: "takes the drawn edge for the land's",
};

pub const SHADOW: Text = Text {
    teaches: "What lies behind high ground does not show, however near it is.",
    before: "You are in a small vessel close north of Gannet Head, bound for Corbel Point. Which headland is the one ahead, and is Corbel Point in sight?",
    hints: [
        "Gannet Head is 509 ft high and lies between you and the coast to the south of it.",
        "A missing echo is no proof of a wrong place. Ask first what stands before it.",
        "Saddle Isle is the near island, to the north-west. The head ahead, to the south, is Gannet Head; Corbel Point is in its shadow.",
    ],
    after: "Corbel Point is as near as other echoes on the screen, and dark: Gannet Head stands before \
            it. The shadow of a head is part of the picture, and moves as you do.",
    trap: "names the echo ahead after the landfall it hopes for",
};

pub const LOOK_ALIKE: Text = Text {
    teaches: "Two places that fit are two places, until something splits them.",
    before: "You are in a small vessel off a head and a ness, on the 12 NM scale. The reckoning is some \
             miles out. Which head is it?",
    hints: [
        "Fallow Head and Fallow Ness stand nine miles north of Sallow Head and Sallow Ness, and look the \
         same.",
        "Your reckoning lies between the two places. Nothing on this scale tells them apart.",
        "State no position, and say \"cannot-say\"; or look on a longer scale for what lies beyond.",
    ],
    after: "Both pairs fitted every range and bearing. Whoever chose had no way to know: the same lesson from another seed begins off the other pair. What splits them lies out of sight on this scale: the coast north of Fallow, the bay south of Sallow.",
    trap: "chooses the nearer of two",
};

pub const SEA_RETURN: Text = Text {
    teaches: "A rough sea answers all round, and hides what is weaker than it.",
    before: "A rough sea, and you are at 1,000 ft. The middle of the screen is bright. Where are you?",
    hints: [
        "Sea return is the same nearly all round (here the mean over the wind's direction; at sea, farther to windward), strongest near the middle, and ends softly. Land has a hard near edge and a shape.",
        "The higher the antenna, the farther out the sea answers. From low down it is less, and so is the horizon.",
        "Work with what is much brighter than the disc and throws a dark shadow behind it: the islands and Gannet Head.",
    ],
    after: "The disc was the sea. In it only strong echoes stood out, and any small thing there was lost. It grows with the height and the sea; no shore looks the same all round.",
    trap: "takes the edge of the sea return for shore",
};

pub const RAIN: Text = Text {
    teaches: "Rain answers like land and hides what is behind it.",
    before: "There are heavy showers some miles off. Which echoes are land, and where are you?",
    hints: [
        "Rain has soft edges and no counterpart on the chart.",
        "What is behind rain is weaker than it should be, or gone.",
        "Take the echoes beyond the showers: islands first, then heads.",
    ],
    after: "The band between five and nine miles was rain. It lay over part of the coast and weakened \
            what was behind it. An echo that no chart explains, with soft edges, is weather until it is shown \
            to be something else.",
    trap: "takes rain for land",
};

pub const FAR_OUT: Text = Text {
    teaches: "Distrust the reckoning as much as its error says, and no less.",
    before: "It is long since your last fix, and the wind was not as forecast. Your landfall, Gannet Head, should be ahead. Is the head ahead your landfall?",
    hints: [
        "The stated error is seven and a half miles, one standard deviation. Fifteen miles is no surprise.",
        "Do not name the echo ahead after the head you expect. Take several, and see what set of names fits all of them.",
        "The near island is Great Ember, with Little Ember beyond it to the south-east. The head ahead is Corbel Point; Gannet Head is to the north-east.",
    ],
    after: "You were some fifteen miles from the reckoning. Each single echo had a likely name near the reckoning, and all of those names were wrong; only together did they tell.",
    trap: "names each echo after what the reckoning has there",
};

pub const FALSE_ECHO: Text = Text {
    teaches: "An echo that the chart does not explain is left out, never explained away.",
    before: "There is traffic off the coast tonight. Take what you need, and no more. Where are you?",
    hints: [
        "Ships are small and strong, and stand where the chart has sea.",
        "Fit the echoes that agree with each other. Those that are left have no name.",
        "Saddle Isle, Great Ember, Little Ember, Gannet Head and Corbel Point are there. Three others \
         are ships.",
    ],
    after: "Three of the echoes were ships. Each has a charted mark nearest to it, and whoever names every echo takes it for that. A wrong name costs more than an echo left out.",
    trap: "names a ship after a charted mark",
};

pub const TWO_DEFLECTIONS: Text = Text {
    teaches: "Two lobes give a range, and two bearings that share one ratio.",
    before: "A range trace, port to the left and starboard to the right. Great Ember is ahead. Read each \
             echo as a range and two deflections. Where are you, and where must you steer?",
    hints: [
        "Equal deflections: it is dead ahead, or dead astern. Turn toward the longer one to bring them \
         equal.",
        "One ratio belongs to two bearings, one near the bow and one past the turn of the curve. Enter the \
         deflections (d 3/2), and both are kept.",
        "Trust the ranges: two ranges cross twice, and the deflections say on which side.",
    ],
    after: "The ranges fixed you, the deflections told which side and which echo. Equal deflections on \
            Great Ember are the way to home on it; the range is what says how far.",
    trap: "takes the bearing near the bow for the only one",
};

pub const A_TURN: Text = Text {
    teaches: "In a turn the deflections are those of another heading and of tilted lobes.",
    before: "You are turning on to 078 as the first echoes come. Great Ember is the landfall. When do you \
             read the trace?",
    hints: [
        "The heading runs on by three degrees a second: a deflection read now belongs to the heading of \
         now.",
        "With a wing down both lobes are tilted, one up and one down, and an echo below the horizon \
         favours the low one.",
        "Wait for the wings to be level, and read then.",
    ],
    after: "The first looks were taken in the turn: their deflections belonged to headings between north \
            and 078. Read as of 078, they put every echo to one side by as much. The ranges were good all \
            the time.",
    trap: "reads the trace in the turn",
};
