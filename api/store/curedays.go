package store

import (
	"fmt"

	"flitchbook/api/shop"
	"flitchbook/planner/cure"
	"flitchbook/planner/unit"
)

// The face a slab is taken to have when nobody measured how thick it is.
const (
	faceLength = 300 * unit.Millimetre
	faceWidth  = 200 * unit.Millimetre
)

// CureDays is when a slab in cure may leave its bag by the house rule, and what a model of
// salt says beside it. The rule is what promises are made from; where the model is later,
// staff are warned. It is about salt, and never says that a slab is cured through.
type CureDays struct {
	Rule      unit.Day    // earliest unbag day (R27)
	Label     string      // cure.SaltModel
	Model     unit.Day    // the centre has 95 % of the salt it evens out to
	Later     unit.Day    // of the two; advice
	Thickness unit.Length // measured, or estimated
	Measured  bool
	Stalled   float64 // hours its room was too cold for cure, or it was frozen
	Reasons   []string
	Warn      string // "" where the model is no later than the rule
}

// Words is the line for page and paper.
func (d CureDays) Words() string {
	return fmt.Sprintf("rule: %s; %s: %s; the later counts for advice", d.Rule.Show(), d.Label, d.Model.Show())
}

// cureDays reckons them for a slab in cure, by its thickness and its room's log.
func (t tx) cureDays(sl *shop.Slab) (*CureDays, error) {
	if sl.SealedOn == 0 || sl.Green <= 0 {
		return nil, nil
	}
	d := &CureDays{Rule: sl.UnbagFrom, Label: cure.SaltModel, Thickness: sl.Thickness, Measured: sl.Thickness > 0}
	if !d.Measured {
		d.Thickness = unit.LengthOfMM(cure.Thickness(sl.Green, faceLength.MM(), faceWidth.MM(), cure.BellyDensity))
	}
	stalled, err := t.coldTime(sl.ID, roomLogs{})
	if err != nil {
		return nil, err
	}
	r, err := cure.Ready(sl.SealedOn, d.Thickness.MM(), sl.SkinOn, stalled)
	if err != nil { // no figure is better than a false one
		return nil, nil
	}
	d.Stalled = stalled.Hours()
	d.Model = sl.SealedOn + unit.Day(cure.WholeDays(r.Salt+d.Stalled/24))
	d.Later = max(d.Rule, d.Model)
	d.Reasons = r.Reasons
	if !d.Measured {
		d.Reasons = append([]string{fmt.Sprintf("thickness not measured: %s is estimated from its weight on a face of %.0f × %.0f cm", d.Thickness.In(), faceLength.MM()/10, faceWidth.MM()/10)}, d.Reasons...)
	}
	if d.Model > d.Rule {
		d.Warn = fmt.Sprintf("By the salt model %s is later than the rule: %s instead of %s. Look at its thickness before it leaves its bag.", sl.Tag, d.Model.Show(), d.Rule.Show())
		if latest := sl.SealedOn + unit.Day(t.s.Rules.LatestDay); d.Model > latest {
			d.Warn += fmt.Sprintf(" That is past its last day, %s.", latest.Show())
		}
	}
	return d, nil
}
