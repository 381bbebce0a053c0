package carcass

import (
	"errors"

	"flitchbook/planner/unit"
)

// Base is the weight a share is a share of. Two shares of different bases are never
// compared or averaged: 70 % of a live animal is not 70 % of its carcass.
type Base string

// The bases, from hoof to bench.
const (
	OfLive         Base = "live weight"
	OfFieldDressed Base = "field-dressed weight" // deer: see FieldDressed
	OfHot          Base = "hot carcass weight"
	OfCold         Base = "cold carcass weight"
	OfSide         Base = "cold side weight"
	OfCut          Base = "weight of the cut"
)

// Attached says whether skin, head or feet were on the carcass that was weighed. They
// change a dressing share by eight points and more without changing the lean.
type Attached string

// What a source says of a part.
const (
	NotStated Attached = "not stated"
	On        Attached = "on"
	Off       Attached = "off"
)

// FieldDressed is what somebody means by "field-dressed". Sources differ by a seventh,
// so a weight without a definition is not turned into another one.
type FieldDressed string

// The definitions met in print.
const (
	DressedUndefined FieldDressed = ""
	DressedGutsOut   FieldDressed = "guts out; hide, head and feet on"
	DressedGutsFeet  FieldDressed = "guts and feet out; hide and head on"
)

const (
	// live = field-dressed × 1.28, in hundredths: a hunting page, read where quoted.
	gutsOutTimesLive = 128
	// field-dressed = 70.4 % of live, in hundredths of a per cent: University of
	// Wyoming B-589R, read where quoted.
	gutsAndFeetOfLive = 7040
)

// ErrDefinition is returned for a field-dressed weight nobody has defined.
var ErrDefinition = errors.New(`"field-dressed" means different things: say whether the feet were off, or the live weight may be a seventh wrong`)

// LiveOf is the live weight of a deer of the given field-dressed weight. It refuses
// with ErrDefinition until the definition is known.
func LiveOf(dressed unit.Weight, d FieldDressed) (unit.Weight, error) {
	switch d {
	case DressedGutsOut:
		return dressed.MulDiv(gutsOutTimesLive, 100), nil
	case DressedGutsFeet:
		return dressed.MulDiv(10_000, gutsAndFeetOfLive), nil
	}
	return 0, ErrDefinition
}
