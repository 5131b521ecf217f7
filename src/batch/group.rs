//! The cases that may be of one patient: made together, since two eyes may share a calendar.

use std::sync::Arc;

use super::first::Entry;
use super::{Fault, Made, Outcome, Printer, Read, Refusal, Target, Watch, issue};
use crate::facts::Moment;
use crate::facts::beside::Other;
use crate::packet::both_eyes::{self, Joined};
use crate::packet::{Case, CaseError, Output, Packet};
use crate::practice::Checked;
use crate::record::Record;

/// What the cases of a group are made with.
pub(super) struct Group<'a> {
    pub(super) printer: &'a Printer<'a>,
    pub(super) entries: &'a [Option<Entry>],
    pub(super) read: &'a Read<'a>,
    pub(super) target: &'a dyn Target,
    pub(super) watch: Watch<'a>,
}

/// A record of a group with its place in the batch.
type Numbered = (usize, Checked<Record>, Moment);

/// Tells each record of a group of the others.
fn beside_each_other(records: Vec<Numbered>) -> Vec<Numbered> {
    let all: Vec<Other> = records.iter().map(|(_, record, _)| Other::of(record)).collect();
    let told = |(place, (at, record, moment)): (usize, Numbered)| {
        let others = all.iter().enumerate().filter(|(other, _)| *other != place).map(|(_, other)| other.clone());
        let beside = record.known_beside().clone().and(others);
        (at, record.beside(beside), moment)
    };
    records.into_iter().enumerate().map(told).collect()
}

/// A case of a group.
struct Member<'a> {
    /// Its place in the batch.
    at: usize,
    record: &'a Checked<Record>,
    case: Case<'a>,
}

/// What became of the case at a place of the batch.
type Placed = (usize, Outcome);

impl Group<'_> {
    /// Makes the cases at these places and hands them over.
    pub(super) fn print(&self, places: &[usize]) -> Vec<Placed> {
        let mut outcomes = Vec::new();
        let mut records: Vec<Numbered> = Vec::new();
        for at in places.iter().copied().take_while(|_| !self.watch.stopped()) {
            match self.read_again(at) {
                Ok((record, moment)) => records.push((at, record, moment)),
                Err(refusal) => outcomes.push(self.refused(at, refusal)),
            }
        }
        let records = beside_each_other(records);
        let mut members = Vec::new();
        for (at, record, moment) in &records {
            match self.member(*at, record, *moment) {
                Ok(member) => members.push(member),
                Err(refusal) => outcomes.push(self.refused(*at, refusal)),
            }
        }
        outcomes.extend(self.two_by_two(members));
        outcomes
    }

    /// Reads a record for the second time. It may have been replaced since by that of another patient.
    fn read_again(&self, at: usize) -> Result<(Checked<Record>, Moment), Refusal> {
        let (record, moment) = (self.read)(at)?;
        match self.entries[at] == Some(Entry::of(&record, moment)) {
            true => Ok((record, moment)),
            false => Err(Refusal::Changed),
        }
    }

    fn member<'r>(&self, at: usize, record: &'r Checked<Record>, moment: Moment) -> Result<Member<'r>, Refusal> {
        if !self.printer.issued_anyway {
            issue::timely(record, moment, (self.printer.issued)(record, moment))?;
        }
        Ok(Member { at, record, case: Case::new(record, moment)? })
    }

    /// Those that share a calendar together, the others each by itself; those that contradict each other without their drop
    /// plans.
    fn two_by_two(&self, members: Vec<Member>) -> Vec<Placed> {
        let cases: Vec<&Case> = members.iter().map(|member| &member.case).collect();
        let found = both_eyes::find(&cases);
        let mut members: Vec<Option<Member>> = members.into_iter().map(Some).collect();
        for stop in &found.stops {
            for at in stop.cases {
                members[at].iter_mut().for_each(|member| member.case.stop(stop));
            }
        }
        let mut outcomes = Vec::new();
        for pair in found.pairs {
            if let [Some(first), Some(second)] = pair.map(|at| members[at].take()) {
                outcomes.extend(self.pair([first, second]));
            }
        }
        outcomes.extend(members.into_iter().flatten().map(|member| self.alone(member)));
        outcomes
    }

    /// Two eyes with one calendar. Where one of them cannot be made, the other keeps its own.
    fn pair(&self, mut members: [Member; 2]) -> Vec<Placed> {
        if self.watch.stopped() {
            return Vec::new();
        }
        let fault = match self.taken_together(&mut members) {
            Ok(packets) => {
                return members.into_iter().zip(packets).map(|(member, made)| self.made(&member, made)).collect();
            }
            Err(fault) => fault,
        };
        match fault.at {
            Some(at) => {
                let [first, second] = members;
                let other = if at == first.at { second } else { first };
                let alone = self.member(other.at, other.record, other.case.moment());
                let alone = alone.map_or_else(|refusal| self.refused(other.at, refusal), |other| self.alone(other));
                vec![self.refused(at, fault.why), alone]
            }
            None => {
                let why = Arc::new(fault.why);
                members.map(|member| self.refused(member.at, Arc::clone(&why).into())).into()
            }
        }
    }

    fn taken_together(&self, members: &mut [Member; 2]) -> Result<Vec<Packet>, Fault> {
        let [first, second] = members;
        let (forms, issued) = (self.printer.forms, (self.printer.issued)(second.record, second.case.moment()));
        let together = |error: CaseError| Fault { at: None, why: error.into() };
        let both = both_eyes::outputs([&first.case, &second.case], forms).map_err(together)?;
        let (of_first, of_second) = (self.chosen(first, &[])?, self.chosen(second, &both)?);
        let joined = both_eyes::join([&mut first.case, &mut second.case], forms, &of_second, issued);
        let joined = joined.map_err(together)?;
        let packets = [
            (first.at, self.packet(first, &of_first, Joined::default())?),
            (second.at, self.packet(second, &of_second, joined)?),
        ];
        self.target.take(&packets)?;
        Ok(packets.into_iter().map(|(_, packet)| packet).collect())
    }

    fn alone(&self, member: Member) -> Placed {
        if self.watch.stopped() {
            return (member.at, Outcome::Stopped);
        }
        let taken = self.chosen(&member, &[]).and_then(|outputs| {
            let packet = [(member.at, self.packet(&member, &outputs, Joined::default())?)];
            self.target.take(&packet)?;
            let [(_, packet)] = packet;
            Ok(packet)
        });
        match taken {
            Ok(packet) => self.made(&member, packet),
            Err(fault) => self.refused(member.at, fault.why),
        }
    }

    /// What the target wants of the packet of a case, and of what can be made beside it.
    fn chosen(&self, member: &Member, beside: &[Output]) -> Result<Vec<Output>, Fault> {
        let mut outputs = member.case.outputs(self.printer.forms).map_err(|error| fault(member, error))?;
        outputs.extend(beside);
        outputs.extend(member.case.papers_as(self.printer.forms));
        self.target.choose(&mut outputs);
        Ok(outputs)
    }

    /// The packet of a case as far as it is wanted, with the calendar of both eyes if it has one.
    fn packet(&self, member: &Member, outputs: &[Output], joined: Joined) -> Result<Packet, Fault> {
        let issued = (self.printer.issued)(member.record, member.case.moment());
        let made = member.case.packet_with(self.printer.forms, outputs, joined, issued);
        made.map_err(|error| fault(member, error))
    }

    fn made(&self, member: &Member, packet: Packet) -> Placed {
        (self.watch.done)();
        let warnings = member.record.warnings();
        let made = Made {
            code: member.record.case.code.clone(),
            files: packet.files.into_iter().map(|file| file.name).collect(),
            withheld: packet.withheld,
            refused_pages: packet.refused_pages,
            not_made: packet.not_made,
            warnings: (!warnings.report.is_empty()).then(|| warnings.clone()),
        };
        (member.at, Outcome::Made(made))
    }

    fn refused(&self, at: usize, why: Refusal) -> Placed {
        (self.watch.done)();
        let code = self.entries[at].as_ref().map(|entry| entry.code.clone());
        (at, Outcome::Refused(code, why))
    }
}

fn fault(member: &Member, error: CaseError) -> Fault {
    Fault { at: Some(member.at), why: error.into() }
}
