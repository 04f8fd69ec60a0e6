use super::growth::ErrorModel;
use super::triangle::{Flow, MadeGood, Velocity, speed, track};
use crate::units::{Bearing, Speed, True};

/// What is held for a while, and what carries it meanwhile.
///
/// A constant direction over the Earth is a rhumb line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Course {
    /// Through the air or water; over the ground where [`Course::over_ground`].
    held: Velocity,
    flow: Velocity,
    /// Whether a flow was stated, be it none.
    stated: bool,
    spread: Speed,
    leeway: Speed,
    kind: Kind,
}

/// What the velocity that is held counts from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    /// The air or the water.
    Through,
    /// The ground.
    Ground,
    /// It lies still over the ground: nothing carries it.
    Fast,
}

impl Course {
    /// A heading and a speed through the air or water, carried by a flow.
    ///
    /// `sigma` is one standard deviation of the flow on each axis, where it is stated.
    pub fn through(
        heading: Bearing<True>,
        through: Speed,
        flow: impl Into<Flow>,
        sigma: Option<Speed>,
        model: &ErrorModel,
    ) -> Self {
        let flow = flow.into();
        let known = !matches!(flow, Flow::Still);
        Self {
            held: Velocity::toward(heading, through),
            flow: flow.velocity(),
            stated: known,
            spread: model.spread(sigma, known, through),
            leeway: model.leeway(through),
            kind: Kind::Through,
        }
    }

    /// A track and a speed stated as made good: the flow is in them, and its error too.
    pub fn over_ground(
        track: Bearing<True>,
        speed: Speed,
        sigma: Option<Speed>,
        model: &ErrorModel,
    ) -> Self {
        Self {
            held: Velocity::toward(track, speed),
            flow: Velocity::default(),
            stated: false,
            spread: model.spread(sigma, true, Speed::ZERO),
            leeway: Speed::ZERO,
            kind: Kind::Ground,
        }
    }

    /// Moored, at anchor, on the ground: its place does not change, and its error does not grow.
    pub fn made_fast(model: &ErrorModel) -> Self {
        let spread = model.spread(None, true, Speed::ZERO);
        Self {
            held: Velocity::default(),
            flow: Velocity::default(),
            stated: false,
            spread,
            leeway: Speed::ZERO,
            kind: Kind::Fast,
        }
    }

    /// Through the air or water, or over the ground where it is stated so.
    pub fn held(&self) -> Velocity {
        self.held
    }

    /// The flow as stated; none where the motion is stated over the ground.
    pub fn flow(&self) -> Velocity {
        self.flow
    }

    /// The flow that was stated with a heading and speed; none where nothing was said of it.
    pub fn stated_flow(&self) -> Option<Velocity> {
        self.stated.then_some(self.flow)
    }

    /// One standard deviation of the flow on each axis, while nothing is found out about it.
    pub fn spread(&self) -> Speed {
        self.spread
    }

    /// What of that is leeway, which comes and goes with the speed through the water.
    pub fn leeway(&self) -> Speed {
        self.leeway
    }

    /// Whether track and speed are stated as made good.
    pub fn is_over_ground(&self) -> bool {
        self.kind == Kind::Ground
    }

    /// Whether an error of the flow moves it.
    pub fn is_carried(&self) -> bool {
        self.kind != Kind::Fast
    }

    /// What it makes good as stated.
    pub fn made_good(&self) -> MadeGood {
        let over = self.held.plus(self.flow);
        let through = (self.kind == Kind::Through).then_some(self.held);
        MadeGood {
            heading: through.and_then(track),
            through: through.map(speed),
            track: track(over),
            speed: speed(over),
        }
    }
}
