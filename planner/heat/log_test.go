package heat

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"flitchbook/planner/unit"
)

// Clocks in Chicago go back on Sun 2026-11-01 at 02:00 CDT (07:00 UTC) to 01:00 CST: the
// tz database's rule for the United States since 2007, the first Sunday in November
// (15 U.S.C. 260a). Source: tz database, northamerica, Rule US 2007 max.
func TestLogOfTheNightTheClocksGoBack(t *testing.T) {
	loc := chicago(t)
	var lines []string
	var want []unit.Instant
	start := time.Date(2026, 11, 1, 5, 0, 0, 0, time.UTC) // 00:00 CDT
	for i := range 5 * 4 {
		at := start.Add(time.Duration(i) * 15 * time.Minute)
		want = append(want, unit.InstantOf(at))
		lines = append(lines, at.In(loc).Format("2006-01-02 15:04")+",38.5")
	}
	check := func(name, text string) {
		t.Helper()
		got, wrong := ParseLog(text, loc)
		if len(wrong) > 0 || len(got) != len(want) {
			t.Fatalf("%s: %d readings, %v", name, len(got), wrong)
		}
		for i, r := range got {
			if r.At != want[i] || r.Temp != 3850 {
				t.Errorf("%s: reading %d is %s %s, want %s", name, i, r.At, r.Temp, want[i])
			}
		}
	}
	check("oldest first", "time,temperature (F)\n"+strings.Join(lines, "\n"))
	var back []string
	for _, l := range lines {
		back = append([]string{l}, back...)
	}
	check("newest first", "\ufefftime;temp F\r\n"+strings.ReplaceAll(strings.Join(back, "\r\n"), ",", ";")+"\r\n")
	var zoned []string
	for _, at := range want {
		zoned = append(zoned, at.In(loc).Format("2006-01-02T15:04:05-07:00")+"\t3.6 °C")
	}
	zone, wrong := ParseLog("when\ttemperature\n"+strings.Join(zoned, "\n"), loc)
	if len(wrong) > 0 || len(zone) != 20 || zone[8].At != want[8] || zone[8].Temp != 3848 {
		t.Errorf("with offsets: %v %v", zone, wrong)
	}
	named, wrong := ParseLog("time,temperature\n2026-11-01 01:15 CST,38 F\n2026-11-01 01:15 CDT,37 F\n", loc)
	if len(wrong) > 0 || named[0].At.String() != "2026-11-01T06:15:00Z" || named[0].Temp != 3700 || named[1].At.String() != "2026-11-01T07:15:00Z" {
		t.Errorf("with names: %v %v", named, wrong)
	}

	// Once through the hour: nobody can say which of the two it was.
	once := append(append([]string{}, lines[:8]...), lines[12:]...)
	_, wrong = ParseLog("time,temperature (F)\n"+strings.Join(once, "\n"), loc)
	if len(wrong) != 4 || wrong[0].Line != 6 || !strings.Contains(wrong[0].Text, "2026-11-01 01:00 came twice") || !strings.Contains(wrong[0].Text, "-05:00 or -06:00") {
		t.Errorf("once through the hour: %v", wrong)
	}
}

func TestLogInPlainWords(t *testing.T) {
	loc := chicago(t)
	for _, c := range []struct{ name, text, says string }{
		{"no header", "2026-11-08 02:00,41.6\n", "Line 1: The first line must name the columns"},
		{"empty", "", "There is no reading in this file"},
		{"only a header", "time,temperature\n", "There is no reading in this file"},
		{"no scale", "time,temperature\n2026-11-08 02:00,41.6\n", "Line 2: \"41.6\" has no scale"},
		{"words", "time,temperature F\n2026-11-08 02:00,warm\n", "Line 2: \"warm\" is not a temperature"},
		{"comma", "time;temperature C\n2026-11-08 02:00;5,3\n", "Line 2: \"5,3\" has a comma"},
		{"no temperature", "time,temperature F\n2026-11-08 02:00,\n", "Line 2: There is no temperature here"},
		{"short line", "time,temperature F\n2026-11-08 02:00\n", "Line 2: There is no temperature here"},
		{"slashes", "time,temperature F\n11/8/2026 02:00,38\n", "Line 2: \"11/8/2026 02:00\" is not a time such as"},
		{"no such day", "time,temperature F\n2026-02-30 02:00,38\n", "Line 2: \"2026-02-30 02:00\" is not a time"},
		{"an hour left out", "time,temperature F\n2027-03-14 02:30,38\n", "Line 2: 2027-03-14 02:30 did not happen"},
		{"another's zone", "time,temperature F\n2026-11-08 02:00 CET,38\n", "Line 2: \"CET\" is not a zone"},
		{"quotes", "time,temperature F\n\"2026-11-08 02:00,38\n", "Line 2: A quotation mark"},
		{"two at once", "time,temperature F\n2026-11-08 02:00,38\n2026-11-08 02:00,39\n", "Line 3: line 2 says 38.0 °F for the same moment, this line 39.0 °F"},
		{"bytes", "time,temperature F\n\xff\xfe", "not a text file"},
	} {
		got, wrong := ParseLog(c.text, loc)
		if got != nil || len(wrong) == 0 || !strings.HasPrefix(wrong[0].Error(), c.says) && !strings.Contains(wrong[0].Error(), c.says) {
			t.Errorf("%s: %v, want %q", c.name, wrong, c.says)
		}
	}
	// Every wrong line is named, and the same line twice is one reading.
	_, wrong := ParseLog("id,time,temperature F\n1,2026-11-08 02:00,38\n2,soon,38\n3,2026-11-08 02:30,cold\n", loc)
	if fmt.Sprint(lineNumbers(wrong)) != "[3 4]" {
		t.Errorf("wrong lines %v", wrong)
	}
	got, wrong := ParseLog("time (UTC),temperature (°C),battery\n2026-11-08 08:15:30.5,5.3,97\n\n2026-11-08 08:15:30,5.3,97\n", loc)
	if len(wrong) > 0 || len(got) != 1 || got[0].At.String() != "2026-11-08T08:15:30Z" || got[0].Temp.String() != "41.54 F" {
		t.Errorf("UTC and °C: %v %v", got, wrong)
	}
}

func lineNumbers(wrong []LineError) []int {
	var out []int
	for _, w := range wrong {
		out = append(out, w.Line)
	}
	return out
}

// A run over the hour that comes twice is counted in elapsed time: 00:45 CDT to 01:30 CST
// is 1 h 45 min and only noted; a reading later it is 2 h, not more; at 02:00 CST it holds.
func TestRunOverTheHourThatComesTwice(t *testing.T) {
	loc := chicago(t)
	first := unit.InstantOf(time.Date(2026, 11, 1, 5, 45, 0, 0, time.UTC))
	var log []Reading
	for i := range 10 {
		log = append(log, Reading{At: first.Add(time.Duration(i) * 15 * time.Minute), Temp: 4200})
		a := Cold(HouseCold(), log, 0, 0)
		if held := a.Runs[0].Hold != nil; held != (i == 9) {
			t.Errorf("%s: held %v", log[i].At.In(loc).Format("15:04 MST"), held)
		}
	}
	a := Cold(HouseCold(), log, 0, 0)
	if at := a.Runs[0].Hold.At.In(loc).Format("15:04 MST"); at != "02:00 CST" || a.Runs[0].Lasted() != 135*time.Minute {
		t.Errorf("held at %s after %s", at, a.Runs[0].Lasted())
	}
}
