package carcass

import "flitchbook/planner/unit"

// Chain is one animal from hoof to side.
type Chain struct {
	Live unit.Weight // 0 when the reckoning started from the hook
	Hot  unit.Weight // hot carcass weight: the scale on the kill floor
	Cold unit.Weight // after chilling: what the shop receives
	Side unit.Weight // half of Cold; real sides differ, so weigh both
}

// FromLive reckons the chain from live weight.
func FromLive(live unit.Weight, dressing, shrink unit.Ratio) Chain {
	c := FromHot(live.Share(dressing), shrink)
	c.Live = live
	return c
}

// FromHot reckons the chain from hot carcass weight.
func FromHot(hot unit.Weight, shrink unit.Ratio) Chain {
	cold := hot - hot.Share(shrink)
	return Chain{Hot: hot, Cold: cold, Side: cold.MulDiv(1, 2)}
}

// Forecast is the chain of the profile's usual animal.
func (p Profile) Forecast() Chain { return FromHot(p.HCW, p.Shrink) }

// Dressing is hot carcass weight as a share of live weight. Skin and head on or off
// change it without changing the lean, so it compares only like with like.
func Dressing(hot, live unit.Weight) unit.Ratio { return hot.RatioOf(live) }

// CuttingYield is packaged weight as a share of the carcass it came from; say
// whether the carcass was weighed hot or cold.
func CuttingYield(packaged, carcass unit.Weight) unit.Ratio { return packaged.RatioOf(carcass) }

// ApparentShrink is the loss between a hot carcass and two sides of the given cold
// weight, of hot weight.
func ApparentShrink(hot, side unit.Weight) unit.Ratio { return (hot - 2*side).RatioOf(hot) }

// Broken is a side taken apart by the profile's shares.
type Broken struct {
	Side     unit.Weight
	Belly    unit.Weight // rib-off, before squaring
	Cuts     []Cut       // the profile's other cuts, in its order
	Unlisted unit.Weight // what the shares do not name; below zero when they overlap
}

// Break takes a cold side apart. Belly + Cuts + Unlisted is the side exactly.
func (p Profile) Break(side unit.Weight) Broken {
	b := Broken{Side: side, Cuts: make([]Cut, len(p.Rest))}
	var share unit.Ratio
	var given unit.Weight
	take := func(r unit.Ratio) unit.Weight {
		share += r
		upTo := side.Share(share)
		w := upTo - given
		given = upTo
		return w
	}
	b.Belly = take(p.Belly)
	for i, c := range p.Rest {
		b.Cuts[i] = Cut{c.Cut, take(c.Share)}
	}
	b.Unlisted = side - given
	return b
}

// Left is what sides leave to sell once their bellies are taken.
type Left struct {
	Sides    int
	Cuts     []Cut // in the profile's order
	Unlisted unit.Weight
	Total    unit.Weight // Cuts and Unlisted together
}

// Leaves adds up what the given cold sides leave besides their bellies.
func (p Profile) Leaves(sides []unit.Weight) Left {
	l := Left{Sides: len(sides), Cuts: make([]Cut, len(p.Rest))}
	for i, c := range p.Rest {
		l.Cuts[i].Name = c.Cut
	}
	for _, s := range sides {
		b := p.Break(s)
		for i, c := range b.Cuts {
			l.Cuts[i].Weight += c.Weight
		}
		l.Unlisted += b.Unlisted
		l.Total += s - b.Belly
	}
	return l
}

// ForecastSides is n sides of the profile's usual animal.
func (p Profile) ForecastSides(n int) []unit.Weight {
	sides, side := make([]unit.Weight, n), p.Forecast().Side
	for i := range sides {
		sides[i] = side
	}
	return sides
}
