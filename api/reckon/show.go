package reckon

import (
	"fmt"

	"flitchbook/planner/unit"
)

// lb rounds a weight to a hundredth of a pound, as the shop's scale shows it.
func lb(w unit.Weight) unit.Weight { return w.Round(unit.Pound / 100) }

// pct rounds a share to a tenth of a per cent.
func pct(r unit.Ratio) unit.Ratio {
	return unit.Ratio(unit.MulDiv(int64(r), 1, int64(unit.Percent/10), unit.HalfUp)) * (unit.Percent / 10)
}

func at(field string, i int) string { return fmt.Sprintf("%s[%d]", field, i) }

// sensible bounds a typed weight: nothing in the shop weighs over 3,000 lb.
func sensible(w unit.Weight) unit.Faults {
	if w < 0 || w > 3000*unit.Pound {
		return unit.Faults{{Text: "a weight must lie between 0 and 3000.00 lb"}}
	}
	return nil
}
