package carcass

import (
	"fmt"
	"slices"
	"strings"

	"flitchbook/planner/unit"
)

// Range is a share as printed: one figure has Low equal to High.
type Range struct{ Low, High unit.Ratio }

// Single says whether one figure was printed.
func (r Range) Single() bool { return r.Low == r.High }

func (r Range) String() string {
	if r.Single() {
		return r.Low.String()
	}
	return strings.TrimSuffix(r.Low.String(), " %") + "–" + r.High.String()
}

// Figure is a named share that is no part of a cut list: a dressing or cutting yield.
type Figure struct {
	Name string
	Of   Base
	Range
}

// PrintedCut is one part of a printed cut list.
type PrintedCut struct {
	Cut string
	Range
}

// Published is what one source prints about one sort of animal, kept whole: bases,
// trims and animals differ between sources, so two are never averaged together.
type Published struct {
	Key     string // short name to select it by: "pork-nppc"
	Species string // pig, lamb, goat, beef, deer
	Animal  string // breed, class or method, in the source's sense

	Skin, Head Attached
	Figures    []Figure     // yields
	Of         Base         // what Cuts are shares of
	Cuts       []PrintedCut // parts of one whole, in the source's order
	Belly      string       // which of Cuts is the rib-off belly before squaring; "" = none
	Shrink     unit.Ratio   // chill loss that goes with it; 0 = not printed
	HCW        unit.Weight  // hot carcass weight the figures were weighed on; 0 = none

	Source     string
	Date       string // of the source: a year, or "" when it bears none
	Tag        string // how the figure is known: "read", "read where quoted", "derived"
	SampleSize int    // animals; 0 = not printed
	Note       string // what to know before using it
}

// Sum is what the cut list adds up to, at the low and the high ends.
func (p Published) Sum() Range {
	var sum Range
	for _, c := range p.Cuts {
		sum.Low += c.Low
		sum.High += c.High
	}
	return sum
}

// Profile is the published cut list as a profile to reckon with. Shares of a carcass
// serve for its sides, which are halves of it. It reports why not when the source
// prints no list, or ranges instead of figures.
func (p Published) Profile() (Profile, error) {
	out := Profile{Farm: p.Animal, Species: p.Species, HCW: p.HCW, Shrink: p.Shrink,
		Source: p.Cite(), SampleSize: p.SampleSize}
	if len(p.Cuts) == 0 {
		return out, fmt.Errorf("%s prints no list of cuts", p.Key)
	}
	switch p.Of {
	case OfHot, OfCold, OfSide:
	default:
		return out, fmt.Errorf("%s gives its cuts as shares of %s, not of a carcass", p.Key, p.Of)
	}
	for _, c := range p.Cuts {
		if !c.Single() {
			return out, fmt.Errorf("%s prints %s for %s, a band and no figure", p.Key, c.Range, c.Cut)
		}
		if c.Cut == p.Belly {
			out.Belly = c.Low
			continue
		}
		out.Rest = append(out.Rest, CutShare{c.Cut, c.Low})
	}
	if out.Belly > 0 {
		trims := bellyTrims()
		out.Squaring, out.Skin = trims.squaring, trims.skin
	}
	return out, out.Check().Err()
}

// Cite is the source in one line.
func (p Published) Cite() string {
	s := p.Source
	if p.Date != "" {
		s += ", " + p.Date
	}
	return s + " [" + p.Tag + "]"
}

type trims struct{ squaring, skin unit.Ratio }

// bellyTrims are squaring 4.2 and skin 10.9 per 81.8 of rib-off belly: J. Anim. Sci.
// 1980, 1,798 carcasses. Sources that print cuts do not print these.
func bellyTrims() trims { return trims{unit.RatioOf(4.2 / 81.8), unit.RatioOf(10.9 / 81.8)} }

// PublishedFor finds a source by its key.
func PublishedFor(key string) (Published, bool) {
	all := AllPublished()
	i := slices.IndexFunc(all, func(p Published) bool { return p.Key == key })
	if i < 0 {
		return Published{}, false
	}
	return all[i], true
}

// AllPublished lists every source, species by species.
func AllPublished() []Published {
	return slices.Concat(publishedPork(), publishedLamb(), publishedGoat(), publishedBeef(), publishedDeer())
}

// at is one printed figure, in hundredths of a per cent; span is two.
func at(h int64) Range      { return Range{hundredths(h), hundredths(h)} }
func span(a, b int64) Range { return Range{hundredths(a), hundredths(b)} }

func hundredths(h int64) unit.Ratio { return unit.Ratio(h) * unit.Percent / 100 }

// weighed turns parts weighed in pounds into shares of a whole in pounds. A part whose
// share the whole does not divide is rounded to a millionth.
func weighed(whole float64, pairs ...any) []PrintedCut {
	var cuts []PrintedCut
	for i := 0; i < len(pairs); i += 2 {
		r := unit.WeightOfPounds(pairs[i+1].(float64)).RatioOf(unit.WeightOfPounds(whole))
		cuts = append(cuts, PrintedCut{pairs[i].(string), Range{r, r}})
	}
	return cuts
}
