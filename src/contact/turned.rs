//! Bearings turned to true again, once it is known better where we were when they were read.

use std::borrow::Cow;

use super::deflection::LobeReading;
use super::kinds::BearingKind;
use super::outline::{Outline, TracedPoint};
use super::own::{Own, ReadBearing};
use super::reading::Contact;
use super::reckoning::Reckoning;
use crate::units::{Bearing, True, Variation};

impl Contact {
    /// The same, where its bearing goes by the magnetic model's variation: turned by that of the place
    /// where a reckoning has us at its time, just as it would be if it were read in now.
    ///
    /// None where it goes by no variation or by one that was stated, and where the reckoning is not
    /// carried so far: it then stands as it is.
    pub fn turned_again(&self, reckoning: &Reckoning, own: &Own) -> Option<Self> {
        match own.as_of((reckoning, self.time), self.turned_from())? {
            Cow::Owned(then) => self.turned_by(&then),
            Cow::Borrowed(_) => None,
        }
    }

    /// The variation that its bearing was turned by; none where it was turned by none.
    pub fn variation(&self, own: &Own) -> Option<Variation> {
        if !self.goes_by_variation() {
            return None;
        }
        let without = self.turned_by(&own.without_variation())?;
        Some(Variation::from_east(self.direction()?.minus(without.direction()?)))
    }

    /// How its bearing, or what its deflections tell, came to be true; none where nothing does.
    pub fn chain(&self, reckoning: &Reckoning, own: &Own) -> Option<String> {
        let then = own.as_of((reckoning, self.time), self.turned_from());
        let then = then.unwrap_or(Cow::Borrowed(own));
        let read = self.as_read.and_then(|read| then.headed(self.heading_as_read).chain(read).ok());
        read.or_else(|| self.lobes.as_ref().map(LobeReading::chain))
    }

    fn goes_by_variation(&self) -> bool {
        self.turned_from().any(BearingKind::is_turned_by_variation)
    }

    /// The same, its bearing turned by these compasses, where it was laid on a heading by that heading.
    fn turned_by(&self, own: &Own) -> Option<Self> {
        let own = own.headed(self.heading_as_read);
        let bearing = self.as_read.map(|read| own.to_true(read)).transpose().ok()?;
        let mut turned = Self { bearing, ..self.clone() };
        if let (Some(lobes), Some(heading)) = (&mut turned.lobes, own.heading) {
            lobes.heading = heading;
        }
        Some(turned)
    }

    /// What turns with the variation: the bearing, or the heading that its deflections count from.
    fn direction(&self) -> Option<Bearing<True>> {
        self.bearing.or(self.lobes.as_ref().map(|lobes| lobes.heading))
    }
}

impl Outline {
    /// As [`Contact::turned_again`].
    pub fn turned_again(&self, reckoning: &Reckoning, own: &Own) -> Option<Self> {
        match own.as_of((reckoning, self.time), self.turned_from())? {
            Cow::Owned(then) => self.turned_by(&then),
            Cow::Borrowed(_) => None,
        }
    }

    /// As [`Contact::variation`].
    pub fn variation(&self, own: &Own) -> Option<Variation> {
        if !self.goes_by_variation() {
            return None;
        }
        let without = self.turned_by(&own.without_variation())?;
        let first = |outline: &Self| outline.points.first().map(|point| point.bearing);
        Some(Variation::from_east(first(self)?.minus(first(&without)?)))
    }

    fn goes_by_variation(&self) -> bool {
        self.turned_from().any(BearingKind::is_turned_by_variation)
    }

    fn turned_by(&self, own: &Own) -> Option<Self> {
        let own = own.headed(self.heading_as_read);
        let turned = self.points.iter().map(|point| {
            let read = ReadBearing { kind: self.kind, degrees: point.degrees };
            Some(TracedPoint { bearing: own.to_true(read).ok()?, ..*point })
        });
        let points = turned.collect::<Option<Vec<_>>>()?;
        Some(Self { points, ..self.clone() })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::contact::Sightings;
    use crate::geodesy::magnetic_variation;
    use std::path::Path;

    const TEXT: &str = r#"
        [reckoning]
        time = "2026-03-09T03:40:00Z"
        position = "50 12.9 S, 103 30.5 W"
        sigma_nm = 4.0
        track_deg = 90.0
        speed_kn = 300.0
        [own]
        height_ft = 2000
        heading_deg = 70.0
        heading_kind = "magnetic"
        [radar]
        set = "patrol"
        [[contact]]
        time = "2026-03-09T06:40:00Z"
        range_nm = 17.3
        bearing_deg = 42.5
        bearing_kind = "magnetic"
        [[contact]]
        time = "2026-03-09T06:40:00Z"
        range_nm = 17.3
        bearing_deg = 42.5
        bearing_kind = "relative"
        [[contact]]
        time = "2026-03-09T06:40:00Z"
        range_nm = 17.3
        bearing_deg = 42.5
        [[outline]]
        time = "2026-03-09T06:40:00Z"
        bearing_kind = "compass"
        points = [[41, 17.9], [42, 17.4], [43, 17.3]]
    "#;

    fn sightings(text: &str) -> Sightings {
        Sightings::parse(text, "t", Path::new("")).unwrap()
    }

    #[test]
    fn a_bearing_goes_by_the_variation_of_where_it_was_read() {
        let sightings = sightings(TEXT);
        let contacts = &sightings.contacts;
        // Three hours on: 900 NM to the east.
        let place = sightings.reckoning.carried_to(contacts[0].time).unwrap().0;
        let there = magnetic_variation(place, sightings.own.height, contacts[0].time).variation;
        let here = sightings.own.variation.unwrap();
        assert!((there.east() - here.east()).degrees().abs() > 1.0, "{there} {here}");
        let expected = [42.5, 112.5].map(|degrees| degrees + there.east().degrees());
        for (contact, expected) in contacts.iter().zip(expected) {
            let bearing = contact.bearing.unwrap();
            let off = bearing.minus(Bearing::wrapped_degrees(expected)).degrees();
            assert!(off.abs() < 1e-9, "{bearing} for {expected}");
            let told = contact.variation(&sightings.own).unwrap();
            assert!((told.east() - there.east()).degrees().abs() < 1e-9, "{told}");
            let chain = contact.chain(&sightings.reckoning, &sightings.own).unwrap();
            assert!(chain.ends_with(&format!("T {bearing}")), "{chain}");
        }
        assert!((contacts[2].bearing.unwrap().degrees() - 42.5).abs() < 1e-9);
        assert_eq!(contacts[2].variation(&sightings.own), None);
        let outline = &sightings.outlines[0];
        let first = outline.points[0].bearing.degrees();
        let expected = Bearing::<True>::wrapped_degrees(41.0 + there.east().degrees()).degrees();
        assert!((first - expected).abs() < 1e-9, "{first} for {expected}");
        // Own heading is of the reckoning's own place.
        let heading = Bearing::<True>::wrapped_degrees(70.0 + here.east().degrees()).degrees();
        assert!((sightings.own.heading.unwrap().degrees() - heading).abs() < 1e-9);
    }

    #[test]
    fn turned_again_it_is_what_it_would_be_if_it_were_read_in_anew() {
        let (wrong, right) = (sightings(&TEXT.replace("30.5 W", "30.5 E")), sightings(TEXT));
        for (wrong, right_one) in wrong.contacts.iter().zip(&right.contacts).take(2) {
            assert_ne!(wrong.bearing, right_one.bearing);
            let again = wrong.turned_again(&right.reckoning, &right.own).unwrap();
            assert_eq!(&again, right_one);
            assert_eq!(again.turned_again(&right.reckoning, &right.own).as_ref(), Some(right_one));
        }
        let again = |outline: &Outline| outline.turned_again(&right.reckoning, &right.own);
        assert_ne!(wrong.outlines, right.outlines);
        assert_eq!(again(&wrong.outlines[0]).as_ref(), Some(&right.outlines[0]));
        // What was true from the start, and what is too far off in time, stand as they are.
        assert_eq!(wrong.contacts[2].turned_again(&right.reckoning, &right.own), None);
        let time = "2026-03-12T03:40:00Z".parse().unwrap();
        let late = Reckoning { time, ..right.reckoning.clone() };
        assert_eq!(wrong.contacts[0].turned_again(&late, &right.own), None);
        // Without a track there is one place for all times.
        let still = Reckoning { track: None, ..right.reckoning.clone() };
        let there = wrong.contacts[0].turned_again(&still, &right.own).unwrap();
        let variation = there.variation(&right.own).unwrap().east();
        let here = right.own.variation.unwrap().east();
        assert!((variation - here).degrees().abs() < 1e-9);
    }

    #[test]
    fn a_variation_that_was_stated_turns_nothing_again() {
        let stated = TEXT.replace("[own]", "[own]\n        variation = \"18.2 W\"");
        let (stated, other) = (sightings(&stated), sightings(&TEXT.replace("12.9 S", "12.9 N")));
        for contact in &stated.contacts {
            assert_eq!(contact.turned_again(&other.reckoning, &stated.own), None);
        }
        assert_eq!(stated.outlines[0].turned_again(&other.reckoning, &stated.own), None);
        assert_eq!(stated.contacts[0].variation(&stated.own).unwrap().to_string(), "18.2 W");
    }
}
