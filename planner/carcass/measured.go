package carcass

import "flitchbook/planner/unit"

// Weighed is one delivered carcass as the scales saw it. What was not weighed is zero
// and counts for nothing.
type Weighed struct {
	Tag    string
	Day    unit.Day
	Hot    unit.Weight
	Sides  []unit.Weight // cold
	Belled []BelliedSide // sides whose belly was weighed
}

// BelliedSide is a cold side and the rib-off belly that came out of it.
type BelliedSide struct{ Side, Belly unit.Weight }

// SideTest is a side taken apart to the last cut, each weighed.
type SideTest struct {
	Day  unit.Day
	Side unit.Weight
	Cuts []Cut // with the belly, if it was kept rib-off, under its profile's name for it: "belly"
}

// Learned is one figure of a farm: what it was before, what its own animals say, and
// the two weighed together.
type Learned struct {
	Name       string // "hanging weight", "shrink", "belly", or a cut
	Prior, Own int64  // nanograms for the hanging weight, else parts per million
	Now        int64
	Samples    int  // animals, or sides for the cuts
	Heavy      bool // a weight, not a share
}

// DefaultPrior is how many animals a prior counts for: after five of its own, a farm's
// figure stands half way between the prior and its own mean. A house rule.
const DefaultPrior = 5

// Own is a farm's profile after its own deliveries.
type Own struct {
	Profile Profile   // to reckon with
	Prior   Profile   // what it started from
	Learned []Learned // figure by figure, those without samples too
	Animals int
	Tests   int
}

// Learn brings a profile up to date with what was weighed. Every figure is
//
//	(n₀ × prior + sum of the animals' own figures) ÷ (n₀ + n)
//
// the mean of the animals' own shares, not the share of their summed weights: each
// animal is one sample. n₀ is how many animals the prior counts for; 0 or less takes
// DefaultPrior. Cuts that no side test names keep their proportions of what the belly
// leaves, so that the shares never add up to more than they did.
func (p Profile) Learn(animals []Weighed, tests []SideTest, n0 int) Own {
	if n0 <= 0 {
		n0 = DefaultPrior
	}
	o := Own{Prior: p, Profile: p, Animals: len(animals), Tests: len(tests)}
	var hcw, shrink, belly samples
	for _, a := range animals {
		if a.Hot > 0 {
			hcw.add(int64(a.Hot))
		}
		var cold unit.Weight
		for _, s := range a.Sides {
			cold += s
		}
		if a.Hot > 0 && len(a.Sides) == 2 && cold > 0 {
			shrink.add(int64((a.Hot - cold).RatioOf(a.Hot)))
		}
		var side, bellies unit.Weight
		for _, b := range a.Belled {
			side, bellies = side+b.Side, bellies+b.Belly
		}
		if side > 0 && bellies > 0 {
			belly.add(int64(bellies.RatioOf(side)))
		}
	}
	for _, t := range tests {
		for _, c := range t.Cuts {
			if c.Name == "belly" && t.Side > 0 && c.Weight > 0 {
				belly.add(int64(c.Weight.RatioOf(t.Side)))
			}
		}
	}
	o.learn("hanging weight", int64(p.HCW), hcw, n0, true, func(v int64) { o.Profile.HCW = unit.Weight(v) })
	o.learn("shrink", int64(p.Shrink), shrink, n0, false, func(v int64) { o.Profile.Shrink = unit.Ratio(v) })
	o.learn("belly", int64(p.Belly), belly, n0, false, func(v int64) { o.Profile.Belly = unit.Ratio(v) })
	o.cuts(tests, n0)
	o.Profile.SampleSize = len(animals)
	return o
}

// cuts learns the other cuts from the side tests.
func (o *Own) cuts(tests []SideTest, n0 int) {
	o.Profile.Rest = make([]CutShare, len(o.Prior.Rest))
	var sum, rest unit.Ratio
	for i, c := range o.Prior.Rest {
		var own samples
		for _, t := range tests {
			for _, cut := range t.Cuts {
				if cut.Name == c.Cut && t.Side > 0 {
					own.add(int64(cut.Weight.RatioOf(t.Side)))
				}
			}
		}
		o.Profile.Rest[i] = c
		o.learn(c.Cut, int64(c.Share), own, n0, false, func(v int64) { o.Profile.Rest[i].Share = unit.Ratio(v) })
		sum += o.Profile.Rest[i].Share
		rest += c.Share
	}
	// What the cuts and the belly may add up to: what they did before.
	if room := o.Prior.Belly + rest - o.Profile.Belly; sum > room && sum > 0 {
		for i := range o.Profile.Rest {
			s := &o.Profile.Rest[i].Share
			*s = unit.Ratio(unit.MulDiv(int64(*s), int64(max(room, 0)), int64(sum), unit.Down))
			o.Learned[len(o.Learned)-len(o.Profile.Rest)+i].Now = int64(*s)
		}
	}
}

func (o *Own) learn(name string, prior int64, s samples, n0 int, heavy bool, set func(int64)) {
	l := Learned{Name: name, Prior: prior, Now: prior, Samples: s.n, Heavy: heavy}
	if s.n > 0 {
		l.Own = unit.MulDiv(s.sum, 1, int64(s.n), unit.HalfUp)
		l.Now = l.Own
		if prior != 0 {
			l.Now = unit.MulDiv(prior*int64(n0)+s.sum, 1, int64(n0+s.n), unit.HalfUp)
		}
		set(l.Now)
	}
	o.Learned = append(o.Learned, l)
}

// samples are figures of single animals. Weights are bounded by heaviest, so 1,000
// animals still fit.
type samples struct {
	n   int
	sum int64
}

func (s *samples) add(v int64) { s.n++; s.sum += v }

// Show writes a figure as people read it.
func (l Learned) Show(v int64) string {
	if l.Heavy {
		return unit.Weight(v).LB()
	}
	return unit.Ratio(v).Pct(2)
}
