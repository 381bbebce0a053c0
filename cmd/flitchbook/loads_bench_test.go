package main

import (
	"context"
	"testing"
	"time"

	"flitchbook/api/shop"
	"flitchbook/cmd/flitchbook/story"
	"flitchbook/planner/smoke"
	"flitchbook/planner/unit"
)

// BenchmarkLoadsAhead is the page of all loads ahead in the invented season: the house rule
// simulated day after day and the plan over all of them at once, reading and proof
// included. Beside the time it says what either comes to, and that the plan is never worse.
func BenchmarkLoadsAhead(b *testing.B) {
	h := openHouse(b, "", defaults(), nil)
	player, err := story.Begin(&story.Player{Store: h.Store, Clock: h.Clock, Strict: true,
		Send: func(context.Context, shop.Notice, shop.Facts) error { return nil }})
	if err != nil {
		b.Fatal(err)
	}
	h.Clock.Set(player.First())
	for _, moment := range []string{"2026-10-24 20:00", "2026-11-04 13:00", "2026-11-14 18:00"} {
		at, err := time.ParseInLocation("2006-01-02 15:04", moment, h.Loc)
		if err != nil {
			b.Fatal(err)
		}
		if err := player.To(b.Context(), unit.InstantOf(at)); err != nil {
			b.Fatal(err)
		}
		b.Run(moment[:10], func(b *testing.B) {
			for b.Loop() {
				o, err := h.SmokeOutlook(b.Context())
				if err != nil {
					b.Fatal(err)
				}
				if o.Status != smoke.Proven || o.Plan.LateDays > o.House.LateDays {
					b.Fatalf("house rule %+v, plan %+v, %s", o.House, o.Plan, o.Status)
				}
				b.ReportMetric(float64(o.House.LateDays), "house-late-days")
				b.ReportMetric(float64(o.Plan.LateDays), "plan-late-days")
				b.ReportMetric(float64(o.House.Loads), "house-loads")
				b.ReportMetric(float64(o.Plan.Loads), "plan-loads")
			}
		})
	}
}
