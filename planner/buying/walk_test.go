package buying

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"flitchbook/planner/carcass"
	"flitchbook/planner/demand"
	"flitchbook/planner/order"
	"flitchbook/planner/steadytest"
	"flitchbook/planner/unit"
)

// Two ways to the same answer: the walk through the weeks and the program of whole
// numbers agree to the cent on what bacon classes cost, with and without outlets.
func TestTheWalkAgreesWithTheProgram(t *testing.T) {
	steadytest.Runs(t, "60")
	fed := 0
	rapid.Check(t, func(rt *rapid.T) {
		farm := Farm{Code: "a", Name: "A", Profile: carcass.Example(), Price: 240, KillFee: 7000, Haul: 2000}
		in := Input{Species: "pig", Level: demand.Full, Rule: carcass.DefaultSlabs(), Farms: []Farm{farm}}
		if rapid.Bool().Draw(rt, "two farms") {
			small := farm
			small.Code, small.Name, small.Profile.HCW, small.Price = "b", "B", unit.Weight(rapid.IntRange(150, 230).Draw(rt, "hot lb"))*unit.Pound, 250
			in.Farms = append(in.Farms, small)
		}
		monday := unit.DayOf(2026, time.October, 5)
		for d := range unit.Day(21) {
			if w := d % 7; w == 1 || w == 2 {
				in.Days = append(in.Days, Day{monday + d, rapid.IntRange(0, 4).Draw(rt, "places")})
			}
		}
		for i := range rapid.IntRange(1, 4).Draw(rt, "classes") {
			c := Class{Class: demand.Class{Code: string(rune('P' + i)), Unit: demand.Belly, Day: monday + unit.Day(rapid.IntRange(5, 26).Draw(rt, "day")), Demo: 1}}
			c.Seats.Full = rapid.IntRange(1, 11).Draw(rt, "seats")
			for _, d := range in.Days {
				if hang := c.Day - d.Kill; hang >= 1 && hang <= 14 {
					c.Kills = append(c.Kills, d.Kill)
				}
			}
			in.Classes = append(in.Classes, c)
		}
		for _, cut := range []string{"ham", "loin"} {
			in.Outlets = append(in.Outlets, carcass.Outlet{Cut: cut, Way: "counter", Week: unit.Weight(rapid.IntRange(0, 90).Draw(rt, cut)) * unit.Pound, Price: 440})
		}
		ways, _, ok, err := in.walk(1)
		if err != nil || !ok {
			rt.Fatal(ok, err)
		}
		p, err := in.mixed(Plan{}, order.Options{})
		if ways[0].unfed > 0 {
			return
		}
		if err != nil || p.Cost != ways[0].cost {
			rt.Fatalf("the walk %s, the program %s, %v", ways[0].cost, p.Cost, err)
		}
		fed++
	})
	if fed < 20 {
		t.Errorf("only %d seasons could be fed", fed)
	}
}
