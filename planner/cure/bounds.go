package cure

import "flitchbook/planner/unit"

// Bounds are the least and the most a scale may show for a ticket's curing salt, of the
// weights CheckWeighOut lets pass. They are found by asking it: a device without signal
// holds a reading against them and can come to no other answer. ok is false when nothing
// passes, and for a ticket with more than one lot, whose parts must be judged together.
func (t Ticket) Bounds(step unit.Weight) (least, most unit.Weight, ok bool) {
	if len(t.Parts) != 1 || t.CuringSalt <= 0 {
		return 0, 0, false
	}
	s := Scale{Name: "any", Step: step, Checked: 1, Reading: CheckWeight}
	passes := func(w unit.Weight) bool { return CheckWeighOut(t, w.Number(unit.Gram, 1), s, 1).Answer != Block }
	around := t.CuringSalt.Share(Tolerance) + CureStep
	for w := (t.CuringSalt - around).RoundUp(CureStep); w <= t.CuringSalt+around; w += CureStep {
		if !passes(w) {
			continue
		}
		if !ok {
			least, ok = w, true
		}
		most = w
	}
	return least, most, ok
}
