// Package carcass reckons what an animal gives: from live weight down to slabs of
// belly, and what an order leaves to sell once the bellies are taken.
//
// # Method
//
// One chain is used everywhere:
//
//	hot carcass weight = live × dressing
//	cold weight        = hot × (1 − shrink)
//	side               = cold ÷ 2
//	cut                = side × the cut's share
//	belly              = side × belly share          (ribs off, not yet squared)
//	net                = belly × (1 − squaring − skin when it is taken off)
//
// A real cold side weight replaces the forecast as soon as it is typed in. Slabs are
// counted per belly and then added; belly weights are never pooled, since the end of
// one belly does not join on to the next (see SlabRule).
//
// Every figure hangs on a Profile: one farm, breed and species with a source and a
// sample size. Yields differ more between farms than a species average can say: a
// small lard-type pig gives one slab where a modern one gives three. Published figures
// (AllPublished) are the place to start; a farm's own weighings then move its profile,
// animal by animal (Profile.Learn).
//
// What a cut costs comes from a cutting test (CuttingTest) or, for a whole animal, by
// sharing its cost over what its cuts sell for (ShareCost).
//
// All weights are exact. Shares are applied cumulatively, so that the parts of a
// whole whose shares add up to 100 % add up to the whole to the nanogram, and what
// they do not name is reported as Unlisted, never lost.
//
// # Sources
//
//   - The shape of the chain and what dressing and cutting yield mean: University of
//     Kentucky Extension ASC-179; Michigan State University Extension, "Carcass
//     Dressing Percentage and Cooler Shrink".
//   - Belly, squaring and skin: Journal of Animal Science 1980, 1,798 carcasses:
//     squaring trim 4.2 % and skin 10.9 % of the untrimmed belly, ribs 18.2 %; on a
//     rib-off belly 4.2 ÷ 81.8 and 10.9 ÷ 81.8.
//   - Shares of a modern side: Translational Animal Science 1(1):77–89, 2017, table 2.
//   - Slab modes and the half per cent of the balance check: house rules.
package carcass

import (
	"fmt"

	"flitchbook/planner/unit"
)

// Profile is what one farm's animals of one breed and species give. Shares are of
// the cold side unless the field says otherwise.
type Profile struct {
	Farm    string
	Breed   string
	Species string // pig, lamb, deer, beef

	// HCW is the usual hot carcass weight: what a forecast uses until a scale speaks.
	HCW unit.Weight
	// Shrink is lost in chilling, of hot carcass weight.
	Shrink unit.Ratio
	// Belly is the rib-off belly before squaring.
	Belly unit.Ratio
	// Squaring and Skin are trimmed from a belly, of the rib-off belly.
	Squaring, Skin unit.Ratio
	// Rest names the other cuts. With Belly they may exceed the side by at most
	// half a per cent; what they leave unnamed is reported as Unlisted.
	Rest []CutShare

	Source     string // where the figures come from
	SampleSize int    // animals behind them; 0 = not known
}

// CutShare is one cut's share of the cold side.
type CutShare struct {
	Cut   string
	Share unit.Ratio
}

// Cut is a weight of one cut.
type Cut struct {
	Name   string
	Weight unit.Weight
}

// heaviest bounds what may be typed as one carcass: about twice a large beef.
const heaviest = 3000 * unit.Pound

// Check lists everything wrong with the profile.
func (p Profile) Check() unit.Faults {
	var f unit.Faults
	if p.HCW < 0 || p.HCW > heaviest {
		f.Add("hcw", "the hanging weight must lie between 0 and "+heaviest.LB())
	}
	for _, r := range []struct {
		field string
		v     unit.Ratio
	}{{"shrink", p.Shrink}, {"belly", p.Belly}, {"squaring", p.Squaring}, {"skin", p.Skin}} {
		if r.v < 0 || r.v >= unit.One {
			f.Add(r.field, "a share must be at least 0 % and under 100 %")
		}
	}
	if p.Squaring+p.Skin >= unit.One {
		f.Add("skin", "squaring and skin together leave nothing of the belly")
	}
	sum := p.Belly
	for i, c := range p.Rest {
		if c.Cut == "" {
			f.Add(fmt.Sprintf("rest[%d].cut", i), "a cut needs a name")
		}
		if c.Share < 0 || c.Share > unit.One {
			f.Add(fmt.Sprintf("rest[%d].share", i), "a share must lie between 0 % and 100 %")
		}
		sum += c.Share
	}
	if sum > unit.One+Tolerance {
		f.Add("rest", fmt.Sprintf("belly and cuts add up to %s, more than the side and half a per cent", sum))
	}
	return f
}

// Example is the profile of Harl Bank, the invented pig farm of the worked examples.
func Example() Profile {
	pct := func(tenths int64) unit.Ratio { return unit.Ratio(tenths) * unit.Percent / 10 }
	return Profile{
		Farm: "Harl Bank", Breed: "white-cross", Species: "pig",
		HCW: 206 * unit.Pound, Shrink: pct(30),
		Belly: pct(160), Squaring: pct(51), Skin: pct(133),
		Rest: []CutShare{
			{"ham", pct(250)}, {"loin", pct(230)}, {"butt", pct(95)},
			{"picnic", pct(107)}, {"ribs", pct(37)}, {"rest", pct(121)},
		},
		Source: "house figures of the demo shop", SampleSize: 17,
	}
}
