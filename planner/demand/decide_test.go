package demand

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"flitchbook/planner/unit"
)

// W6 of the house: B4 on Tue Oct 6 has 3 sold of 10, minimum 6; its order feeds D3's
// half as well and stands at 2 pigs. 4 bellies give 12 slabs; 3 seats and the demo are
// spoken for.
func TestGoSheet(t *testing.T) {
	in := harl(
		Class{Code: "D3", Unit: Half, Day: unit.DayOf(2026, 10, 29), Seats: Seats{10, 10, 12}, PerUnit: 12},
		Class{Code: "B4", Unit: Belly, Day: unit.DayOf(2026, 10, 31), Seats: Seats{3, 8, 10}, Demo: 1})
	g, err := Go(in, "B4", 6, 0, Forecast{Seats: 8})
	if err != nil {
		t.Fatal(err)
	}
	if g.Sold != 3 || g.Seats != 10 || g.Min != 6 || g.Missing != 3 || g.Reached() || g.Animals != 2 || g.Slabs != 12 || g.Spoken != 4 || g.House != 8 {
		t.Errorf("%+v", g)
	}
	if got := fmt.Sprint(g.Homes, g.Fewer); got != "[{true bellies have another home: 8 slabs to house bacon}] 1" {
		t.Errorf("homes %s", got)
	}
	// The clinic beside it: its half goes over the counter, its dinner nowhere.
	if g, err = Go(in, "D3", 8, 2, Forecast{}); err != nil || !g.Reached() || g.Without != 2 {
		t.Errorf("%+v, %v", g, err)
	}
	if got := fmt.Sprint(g.Homes); got != "[{true 1 half of 99.91 lb: to cut and sell over the counter} {false the dinner has no other home}]" {
		t.Errorf("homes %s", got)
	}
	if _, err := Go(in, "B5", 6, 0, Forecast{}); err == nil || !strings.Contains(err.Error(), "B5 is not fed") {
		t.Errorf("a stranger: %v", err)
	}
}

// E-T4: bacon class Sun 2026-03-22 09:00, frozen bellies of 16.27 lb, 24 h per started
// 5 lb (extension "safe thawing practices" sheet [read]): out by Wed 2026-03-18 09:00.
func TestOutBy(t *testing.T) {
	at := func(d int) unit.Instant { return unit.InstantOf(time.Date(2026, 3, d, 9, 0, 0, 0, time.UTC)) }
	if got := OutBy(at(22), lbs(16.27), 0); got != at(18) {
		t.Errorf("E-T4: out by %v", got.Time())
	}
}
