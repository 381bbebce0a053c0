package cure

import (
	"fmt"
	"time"

	"flitchbook/planner/unit"
)

// A Readiness is when a slab is proposed to be ready, by DefaultPlan and the time in
// which its cure stood still. It is a rule of thumb and a salt model, and no leave to
// unbag: the shop's own rule and its holds decide that.
type Readiness struct {
	Plan
	Stalled time.Duration // time in which nothing moved
	Total   int           // whole days with it
	Ready   unit.Day
	Picture Picture // of the salt on the ready day, at SaltSlow
}

// Ready proposes the day for a slab sealed on a day, by its thickest point. stalled is
// time that the room was too cold for cure (heat.ColdTime) or the slab frozen; no salt
// moves in it by the model, and the rule of thumb waits for it too.
func Ready(sealed unit.Day, thicknessMM float64, skinOn bool, stalled time.Duration) (Readiness, error) {
	if sealed == 0 {
		return Readiness{}, refuse("without its seal date a slab of %.1f mm has no ready date", thicknessMM)
	}
	if stalled < 0 || stalled > 1000*24*time.Hour {
		return Readiness{}, refuse("a cure cannot stand still for %.1f hours", stalled.Hours())
	}
	p, err := DefaultPlan(thicknessMM, skinOn)
	if err != nil {
		return Readiness{}, err
	}
	r := Readiness{Plan: p, Stalled: stalled}
	lost := stalled.Hours() / 24
	r.Total = WholeDays(max(p.Thumb, p.Salt, LeastDays) + lost)
	r.Ready = sealed + unit.Day(r.Total)
	r.Picture = Salt(thicknessMM, skinOn, Spell{float64(r.Total) - lost, SaltSlow}, Spell{lost, 0})
	if stalled > 0 {
		r.Reasons = append(r.Reasons, fmt.Sprintf("too cold or frozen for %.1f hours, in which cure stands still", stalled.Hours()))
	}
	return r, nil
}
