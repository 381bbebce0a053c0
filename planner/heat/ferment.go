package heat

import (
	"fmt"
	"time"

	"flitchbook/planner/unit"
)

// A Chamber is a stretch of fermenting at one temperature.
type Chamber struct {
	For  time.Duration
	Temp unit.Temp
}

// A FermentRule is how many degree-hours above a base a sausage may take until its pH is
// 5.3 or less, by the hottest temperature its chamber had.
type FermentRule struct {
	ID, Source string
	Base       unit.Temp
	Degree     unit.Temp // of a degree-hour: °F or °C
	Steps      []FermentStep
}

// A FermentStep is the limit for chambers whose hottest is under Under, or as hot as it
// where UpTo says so; the last step has neither end.
type FermentStep struct {
	Under unit.Temp // 0: any
	UpTo  bool
	Limit int64 // degree-hours; the limit itself is allowed
}

const celsius unit.Temp = 180

// FermentRules lists the rules with their sources: United States first.
func FermentRules() []FermentRule {
	return []FermentRule{
		{ID: "us", Source: "Good Manufacturing Practices for Fermented Dry and Semi-Dry Sausage, AMI 1997, through a page on standards for fermented sausage, as quoted",
			Base: 6000, Degree: unit.Fahrenheit, Steps: []FermentStep{{9000, false, 1200}, {10000, true, 1000}, {0, false, 900}}},
		{ID: "canada", Source: "Canadian manual of meat hygiene, from memory",
			Base: 3200 + 156*celsius/10, Degree: celsius, Steps: []FermentStep{{3200 + 33*celsius, false, 665}, {3200 + 37*celsius, true, 555}, {0, false, 500}}},
	}
}

// limit is the step for a hottest temperature.
func (r FermentRule) limit(hottest unit.Temp) int64 {
	for _, s := range r.Steps {
		if s.Under == 0 || hottest < s.Under || s.UpTo && hottest == s.Under {
			return s.Limit
		}
	}
	return 0
}

// A Fermented is what a chamber's log amounts to under a rule.
type Fermented struct {
	Rule        string
	DegreeHours float64
	Limit       int64
	Hottest     unit.Temp
	Outcome     Outcome // Pass or Fail
	Why         string
}

// most a stretch and a whole log may last.
const longestFerment = 10_000 * time.Hour

// Ferment counts the degree-hours of a log up to the moment the pH was 5.3 or less, in
// whole numbers, and compares them with the limit for the hottest temperature in it. No
// time below the base counts, and none makes up for time above it. The error is
// unit.Faults.
func Ferment(rule FermentRule, log []Chamber) (Fermented, error) {
	var f unit.Faults
	if len(log) == 0 || len(log) > maxPoints {
		f.Add("stretches", fmt.Sprintf("a log has 1 to %d stretches", maxPoints))
	}
	var sum int64 // of hundredths of a °F × seconds
	var whole time.Duration
	out := Fermented{Rule: rule.ID, Outcome: Pass, Hottest: -100_000}
	for i, c := range log {
		at := fmt.Sprintf("stretches[%d]", i)
		if c.Temp < -10000 || c.Temp > 30_000 {
			f.Add(at, c.Temp.String()+" is no temperature to ferment at")
			continue
		}
		if c.For <= 0 || c.For > longestFerment || whole+c.For > longestFerment {
			f.Add(at, fmt.Sprintf("a log lasts more than nothing and at most %.0f h", longestFerment.Hours()))
			continue
		}
		whole += c.For
		out.Hottest = max(out.Hottest, c.Temp)
		sum += int64(max(0, c.Temp-rule.Base)) * int64(c.For/time.Second)
	}
	if err := f.Err(); err != nil {
		return Fermented{}, err
	}
	unitOf := int64(rule.Degree) * 3600
	out.DegreeHours = float64(sum) / float64(unitOf)
	out.Limit = rule.limit(out.Hottest)
	degree := "°F"
	if rule.Degree == celsius {
		degree = "°C"
	}
	out.Why = fmt.Sprintf("%.1f %s-hours of at most %d for a chamber that reached %s", out.DegreeHours, degree, out.Limit, out.Hottest.Show())
	if sum > out.Limit*unitOf {
		out.Outcome = Fail
	}
	return out, nil
}

// LongestAt is the longest that a chamber may stay at one temperature under a rule;
// false at or below the base, where it does not count.
func (r FermentRule) LongestAt(t unit.Temp) (time.Duration, bool) {
	if t <= r.Base {
		return 0, false
	}
	return time.Duration(r.limit(t)*int64(r.Degree)*3600/int64(t-r.Base)) * time.Second, true
}

// Dryness is moisture to protein, both in per cent of a product (Ohio State University,
// page on fermented sausage, read): what a name asks for at most.
func Dryness() map[string]float64 {
	return map[string]float64{"pepperoni": 1.6, "dry salami": 1.9, "Genoa salami": 2.1, "summer sausage": 3.1, "jerky": 0.7}
}

// KeepsUnchilled says whether a fermented sausage is taken to keep without a cooler: pH
// of at most 5.0 and moisture to protein of at most 3.1 (read where quoted).
func KeepsUnchilled(pH, moistureToProtein float64) bool {
	return pH > 0 && pH <= 5.0 && moistureToProtein > 0 && moistureToProtein <= 3.1
}
