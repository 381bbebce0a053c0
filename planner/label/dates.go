package label

import "flitchbook/planner/unit"

// A Life is how long a place's code lets reduced-oxygen packs be kept at 41 °F.
type Life struct {
	Days   int
	Source string
}

// FoodCodeLife is the usual rule; ShortLife that of places with the older, shorter one.
var (
	FoodCodeLife = Life{30, "Food Code 3-502.12 as Wisconsin ATCP 75 appendix adopts it"}
	ShortLife    = Life{14, "Nevada 446.184; Minnesota 4626.0420 (2014 text)"}
)

// DiscardAfter is the last day a pack may be eaten, frozen days in between not counted.
func (l Life) DiscardAfter(packed unit.Day, frozen int) unit.Day {
	return packed + unit.Day(l.Days+frozen)
}

// UseBy is the house's own day, or the rule's where that is sooner.
func UseBy(packed unit.Day, house int, l Life) unit.Day {
	return min(packed+unit.Day(house), l.DiscardAfter(packed, 0))
}

// Thawed is within how many days a pack must be eaten once it is out of the freezer: the
// house's number, or what the rule has left of the days before it was frozen.
func Thawed(packed, frozen unit.Day, house int, l Life) int {
	return max(0, min(house, l.Days-int(frozen-packed)))
}
