package inspection

import (
	"time"

	"flitchbook/planner/unit"
)

// KeepPurchase is the last day the papers of a purchase, delivery or sale of meat are to
// be kept: two years after 31 December of the year it was made in (9 CFR 320.3(a)).
func KeepPurchase(made unit.Day) unit.Day {
	return unit.DayOf(made.Year()+2, time.December, 31)
}

// KeepGrinding is the last day the record of a grinding is to be kept: one year on
// (9 CFR 320.3(c)). A record of 29 February is kept to 1 March.
func KeepGrinding(ground unit.Day) unit.Day {
	end := ground.AddMonths(12)
	if ground.Month() == time.February && (ground-28).Month() == time.February {
		end++ // the 29th has no namesake the year after
	}
	return end
}
