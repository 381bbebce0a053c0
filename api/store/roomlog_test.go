package store_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"flitchbook/api/shop"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/heat"
	"flitchbook/planner/unit"
)

// A thermometer's file is stored whole or not at all; the same again changes nothing; one
// that says something else is refused with its lines. What a file brings late, from before
// a decision, opens a hold where nobody has looked and where it is worse than what was
// decided on.
func TestAThermometersFile(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		b := lay(t, h)
		b.Go("2026-10-10 14:00")
		b.class("B1", "2026-10-10 14:00")
		_, tags := b.party(1, "Imke S.", "B1", laid{"PB", "4.60", false})
		b.teach(tags...)
		b.Go("2026-10-12 09:00")
		readings := func() int64 { return b.count(&shop.ProbeReading{}, "1 = 1") }

		_, err := b.ImportReadings(b.Ctx, storetest.Nadia, "cure", "time,temperature (F)\n2026-10-11 01:00,38.0\n2026-10-11 01:15,cold\n2026-10-13 01:00,38\n")
		b.no(err, "Nothing of this file was stored")
		if e, _ := shop.AsError(err); !strings.Contains(e.Fields["file"], `Line 3: "cold"`) {
			t.Errorf("refused with %q", e.Fields["file"])
		}
		_, err = b.ImportReadings(b.Ctx, storetest.Nadia, "cure", "time,temperature (F)\n2026-10-11 01:00,38.0\n2026-10-13 01:00,38\n2026-10-11 02:00,900\n")
		if e, _ := shop.AsError(err); e == nil || !strings.Contains(e.Fields["file"], "Line 3: Tue Oct 13, 01:00 lies ahead") || !strings.Contains(e.Fields["file"], "Line 4: 900.0 °F cannot be") {
			t.Errorf("refused with %v", err)
		}
		if readings() != 0 {
			t.Fatal("half a file was stored")
		}
		file := "time,temperature (C)\n"
		for i := range 13 { // 02:00 to 05:00 at 5.3 °C, 41.54 °F
			file += fmt.Sprintf("2026-10-11 %02d:%02d,5.3\n", 2+i/4, i%4*15)
		}
		got, err := b.ImportReadings(b.Ctx, storetest.Nadia, "cure", file)
		b.ok(err)
		if got.Read != 13 || got.New != 13 || len(got.Opened) != 1 {
			t.Fatalf("read %+v", got)
		}
		v, err := b.Hold(b.Ctx, got.Opened[0])
		b.ok(err)
		if v.OpenedAt != b.At("2026-10-11 04:15") || len(v.Held) != 1 {
			t.Errorf("hold since %s on %v", v.OpenedAt.Show(b.Loc), v.Held)
		}
		for range 2 {
			again, err := b.ImportReadings(b.Ctx, storetest.Nadia, "cure", file)
			b.ok(err)
			if again.New != 0 || len(again.Opened) != 0 || readings() != 13 {
				t.Errorf("the same file again: %+v", again)
			}
		}
		_, err = b.ImportReadings(b.Ctx, storetest.Nadia, "cure", strings.Replace(file, "02:15,5.3", "02:15,4.0", 1)+"2026-10-11 05:15,4\n")
		if e, _ := shop.AsError(err); e == nil || e.Code != "reading_kept" || !strings.Contains(e.Fields["file"], "Line 3: Sun Oct 11, 02:15 is stored as 41.54 F, the file says 39.2 F") || readings() != 13 {
			t.Errorf("a file that says something else: %v", err)
		}
		b.ok(b.Release(b.Ctx, storetest.Odile, got.Opened[0], nil, "5.3 C for three hours, bag tight"))
		b.want(tags[0], shop.InCure)

		// Late, but no worse than what was decided on: noted. Late and worse: held again.
		late := func(at, temp string) []shop.HoldID { return b.read("cure", b.At(at), temp) }
		if ids := late("2026-10-11 02:07", "41.2"); ids != nil {
			t.Errorf("a late reading that changes nothing opened %v", ids)
		}
		if ids := late("2026-10-11 03:07", "52.0"); len(ids) != 1 {
			t.Errorf("52 °F in the decided night opened %v", ids)
		}
		b.want(tags[0], shop.OnHold)

		// Another room, another probe: its places and log are its own.
		b.no(b.AddRoom(b.Ctx, storetest.Tobias, "cellar", "Cellar"), "may not")
		b.ok(b.AddRoom(b.Ctx, storetest.Odile, "Cellar", "Old cellar"))
		b.no(b.AddRoom(b.Ctx, storetest.Odile, "cellar", "Again"), "")
		codes, err := b.AddPlaces(b.Ctx, storetest.Odile, "cellar", shop.Overflow, "q", 3)
		b.ok(err)
		more, err := b.AddPlaces(b.Ctx, storetest.Odile, "cellar", shop.Overflow, "Q", 1)
		b.ok(err)
		if fmt.Sprint(codes, more) != "[Q1 Q2 Q3] [Q4]" {
			t.Errorf("places %v, then %v", codes, more)
		}
		_, err = b.AddPlaces(b.Ctx, storetest.Odile, "smokehouse", shop.Shelf, "S", 1)
		b.no(err, "")
	})
}

// A hold that is open does not cover what came into the room since: a new run holds it too.
func TestAnOpenHoldCoversOnlyItsOwn(t *testing.T) {
	b := lay(t, storetest.SQLite(t))
	b.Go("2026-10-10 14:00")
	b.class("B1", "2026-10-10 14:00")
	_, first := b.party(1, "Imke S.", "B1", laid{"PB", "4.60", false})
	b.teach(first...)
	b.Go("2026-10-11 10:00")
	if ids := b.read("cure", b.Now(), "46"); len(ids) != 1 {
		t.Fatalf("46 °F opened %v", ids)
	}
	b.Clock.Add(15 * time.Minute)
	b.read("cure", b.Now(), "38")
	b.Go("2026-10-11 14:00")
	_, second := b.party(2, "Raoul D.", "B1", laid{"PB", "4.60", false})
	b.teach(second...)
	b.Go("2026-10-11 16:00")
	if ids := b.read("cure", b.Now(), "46"); len(ids) != 1 {
		t.Errorf("46 °F again opened %v", ids)
	}
	b.want(second[0], shop.OnHold)
	if ids := b.read("cure", b.Now()+60, "38"); ids != nil {
		t.Error("cold again opened a hold")
	}
	b.Clock.Add(time.Hour)
	if ids := b.read("cure", b.Now(), "46"); ids != nil {
		t.Errorf("all lie on hold already, and yet %v opened", ids)
	}
	b.want(first[0], shop.OnHold)
}

// The night the clocks go back has twenty-five hours; a gap of more than an hour asks, and
// stops asking when somebody has said why.
func TestRoomLogOfALongNight(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		b := lay(t, h)
		b.Go("2026-11-01 00:00")
		day := unit.DayOf(2026, 11, 1)
		from := b.Now()
		var in []heat.Reading
		for i := range 25 * 4 {
			if i >= 40 && i < 45 { // 09:00 to 10:00 CST: 08:45 to 10:15 is an hour and a half
				continue
			}
			in = append(in, heat.Reading{At: from + unit.Instant(i*900), Temp: 38 * unit.Fahrenheit})
		}
		b.Go("2026-11-01 23:50")
		_, err := b.Readings(b.Ctx, probe, "cure", in)
		b.ok(err)
		l, err := b.RoomLog(b.Ctx, "cure", day, 1)
		b.ok(err)
		if l.To-l.From != 25*3600 || len(l.Readings) != 95 || len(l.Runs) != 0 {
			t.Errorf("%d seconds, %d readings, runs %v", l.To-l.From, len(l.Readings), l.Runs)
		}
		if len(l.Gaps) != 1 || l.Gaps[0].From.Clock(b.Loc) != "08:45" || l.Gaps[0].To.Clock(b.Loc) != "10:15" || len(l.Gaps[0].Said) != 0 {
			t.Fatalf("gaps %+v", l.Gaps)
		}
		asks := func() bool {
			lines, err := b.MorningList(b.Ctx)
			b.ok(err)
			return strings.Contains(strings.Join(lines, "\n"), "NO READINGS from Sun Nov 1, 08:45 to Sun Nov 1, 10:15")
		}
		if !asks() {
			t.Error("the owner is not asked")
		}
		b.no(b.NoteRoom(b.Ctx, storetest.Odile, "cure", from, 0, " "), "")
		b.ok(b.NoteRoom(b.Ctx, storetest.Odile, "cure", l.Gaps[0].From, l.Gaps[0].To, "The battery was changed."))
		if asks() {
			t.Error("the owner is asked what she has said")
		}
		if l, err = b.RoomLog(b.Ctx, "cure", day, 1); err != nil || len(l.Gaps) != 1 || len(l.Gaps[0].Said) != 1 {
			t.Errorf("a gap stays a gap: %+v, %v", l.Gaps, err)
		}
		if n := b.count(&shop.Hold{}, "1 = 1"); n != 0 {
			t.Errorf("%d holds", n)
		}
	})
}
