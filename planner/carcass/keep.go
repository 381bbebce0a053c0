package carcass

import "flitchbook/planner/unit"

// Keeping is a vacuum-packed raw piece and its days in the fridge. Days in the freezer
// are not counted (Food Code 3-502.12(B) as Wisconsin's ATCP 75 appendix adopts it:
// discard after 30 calendar days, frozen time apart; local code decides).
type Keeping struct {
	Packed   unit.Day
	Frozen   unit.Day // 0 = never frozen
	Thawed   unit.Day // out of the freezer; 0 = still in it
	MostDays int      // in the fridge
}

// Used is how many of its days have gone by on a day.
func (k Keeping) Used(on unit.Day) int {
	switch {
	case k.Frozen == 0 || on <= k.Frozen:
		return int(on - k.Packed)
	case k.Thawed == 0 || on <= k.Thawed:
		return int(k.Frozen - k.Packed)
	}
	return int(k.Frozen-k.Packed) + int(on-k.Thawed)
}

// DiscardAfter is the last day it may be used, and false while it lies in the freezer,
// where no days are counted.
func (k Keeping) DiscardAfter() (unit.Day, bool) {
	switch {
	case k.Frozen == 0:
		return k.Packed + unit.Day(k.MostDays), true
	case k.Thawed == 0:
		return 0, false
	}
	return k.Thawed + unit.Day(k.MostDays-int(k.Frozen-k.Packed)), true
}

// FreezerRoom is the room wrapped meat takes, in hundredths of a cubic foot, at so many
// pounds a cubic foot (North Carolina State Extension, 2004: 35 lb).
func FreezerRoom(meat unit.Weight, poundsPerCubicFoot int64) int64 {
	return unit.MulDiv(int64(meat), 100, poundsPerCubicFoot*int64(unit.Pound), unit.HalfUp)
}
