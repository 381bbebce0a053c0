package story_test

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/json"
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"testing"

	"flitchbook/api/shop"
	"flitchbook/api/store/storetest"
	"flitchbook/cmd/flitchbook/story"
)

// The whole invented story, from the first voucher to the last collected packet, is
// played through the same use cases as the pages, on both databases; nothing of it may
// be refused. Afterwards the shop's check totals must come out: they were counted by
// hand from the list of bookings.
func TestWholeStory(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		sent := map[string]int{}
		p, err := story.Begin(&story.Player{Store: h.Store, Clock: h.Clock, Strict: true,
			Send: func(_ context.Context, n shop.Notice, _ shop.Facts) error { sent[n.Key]++; return nil }})
		if err != nil {
			t.Fatal(err)
		}
		h.Clock.Set(p.First())
		if err := p.To(h.Ctx, h.At("2026-11-29 20:00")); err != nil {
			t.Fatal(err)
		}
		for key, n := range sent {
			if n != 1 {
				t.Errorf("notice %s was sent %d times", key, n)
			}
		}
		checkPeople(t, h)
		checkSlabs(t, h)
		checkAnimals(t, h)
		report, err := h.Check(h.Ctx)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range report {
			if len(r.Broken) > 0 {
				t.Errorf("%s: %v", r.Rule, r.Broken)
			}
		}
		takenOut(t, h)
	})
}

// takenOut takes the shop's records out whole, reads them into an empty database of the
// other kind, and finds every total again; taken out of there, each file is the same to
// the byte.
func takenOut(t *testing.T, h *storetest.House) {
	t.Helper()
	first := archive(t, h)
	url := "sqlite:" + filepath.Join(t.TempDir(), "copy.db")
	if h.Dialect() == "sqlite" && os.Getenv("TEST_POSTGRES") != "" {
		url = storetest.PostgresURL(t)
	}
	other := storetest.Bare(t, url)
	other.Clock.Set(h.Now())
	n, err := other.TakeIn(h.Ctx, bytes.NewReader(first), int64(len(first)))
	if err != nil {
		t.Fatal(err)
	}
	checkPeople(t, other)
	checkSlabs(t, other)
	checkAnimals(t, other)
	report, err := other.Check(h.Ctx)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range report {
		if len(r.Broken) > 0 {
			t.Errorf("read in, %s: %v", r.Rule, r.Broken)
		}
	}
	was, is := listed(t, first), listed(t, archive(t, other))
	if len(was) < 50 || n < 3000 {
		t.Errorf("%d tables, %d records: too little to prove anything", len(was), n)
	}
	if !reflect.DeepEqual(was, is) {
		t.Errorf("taken out again it is something else:\n%v\n%v", was, is)
	}
}

func archive(t *testing.T, h *storetest.House) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := h.TakeOut(h.Ctx, &b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// listed are the files an archive lists, each with its sum.
func listed(t *testing.T, b []byte) []any {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		t.Fatal(err)
	}
	f, err := z.Open("list.json")
	if err != nil {
		t.Fatal(err)
	}
	var list struct{ Tables []any }
	if err := json.NewDecoder(f).Decode(&list); err != nil {
		t.Fatal(err)
	}
	return list.Tables
}

// stands says whether a person's seat was neither given back nor moved away.
func stands(s shop.BookingState) bool { return s == shop.Firm || s == shop.Came || s == shop.Missed }

func checkPeople(t *testing.T, h *storetest.House) {
	t.Helper()
	heads := map[string]int{}
	watching, seconds, bookings := 0, 0, map[int]bool{}
	picks := map[string]int{}
	for _, code := range []string{"B1", "B2", "B3", "B4", "B5", "B6", "B7", "B8", "P2", "D1", "D2", "D3", "D4", "D5", "D6", "P1"} {
		d, err := h.DoorList(h.Ctx, code)
		if err != nil {
			t.Fatal(err)
		}
		for _, v := range d.Parties {
			bookings[v.Number] = true
			for _, m := range v.People {
				if !stands(m.State) {
					continue
				}
				if m.Kind == shop.WatchSeat {
					watching++
					continue
				}
				heads[code]++
				if m.Slabs == 2 {
					seconds++
				}
				for _, k := range m.Picks {
					picks[k.Code]++
				}
			}
		}
	}
	if want := map[string]int{"B1": 10, "B2": 10, "B3": 10, "P2": 8, "B4": 7, "B5": 10, "B6": 8, "B7": 8, "B8": 6, "D1": 8, "D3": 8, "D4": 9, "D5": 10, "D6": 6, "P1": 21}; !maps.Equal(heads, want) {
		t.Errorf("heads %v, want %v", heads, want)
	}
	if watching != 1 || seconds != 1 || len(bookings) != 54 {
		t.Errorf("%d watching, %d second slabs, %d bookings; want 1, 1, 54", watching, seconds, len(bookings))
	}
	if want := map[string]int{"PB": 22, "MC": 11, "GP": 10, "JT": 8, "FO": 8, "PL": 7, "MH": 6, "CS": 4, "SC": 2}; !maps.Equal(picks, want) {
		t.Errorf("picks %v, want %v", picks, want)
	}
}

func checkSlabs(t *testing.T, h *storetest.House) {
	t.Helper()
	all, demos := 0, 0
	for _, state := range shop.SlabMoves.States {
		tags, err := h.Tags(h.Ctx, "", state)
		if err != nil {
			t.Fatal(err)
		}
		for _, tag := range tags {
			v, err := h.Slab(h.Ctx, tag)
			if err != nil {
				t.Fatal(err)
			}
			all++
			if v.Demo {
				demos++
			}
		}
	}
	if all != 85 || demos != 7 {
		t.Errorf("%d slabs, %d of them demo; want 85 and 7", all, demos)
	}
}

func checkAnimals(t *testing.T, h *storetest.House) {
	t.Helper()
	asked, came := map[string]int{}, map[string]int{}
	for n := 1; ; n++ {
		o, err := h.OrderPage(h.Ctx, n)
		if err != nil {
			break
		}
		asked[o.Order.Species] += o.Order.Animals
		came[o.Order.Species] += o.Order.Delivered
	}
	if asked["pork"] != 18 || came["pork"] != 17 || came["lamb"] != 1 || came["beef"] != 1 {
		t.Errorf("asked %v, came %v; want 18 pigs asked and 17 delivered, a lamb, a beef", asked, came)
	}
}
