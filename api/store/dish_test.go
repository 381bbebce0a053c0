package store_test

import (
	"slices"
	"strings"
	"testing"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	tableplan "flitchbook/planner/table"
)

func dishNamed(t testing.TB, lines []store.MenuLine, name string) store.MenuLine {
	t.Helper()
	i := slices.IndexFunc(lines, func(l store.MenuLine) bool { return l.Name == name })
	if i < 0 {
		t.Fatalf("no dish %s", name)
	}
	return lines[i]
}

// A severe need takes the dish off the table, not the guest (R13): at D1 the coeliac's
// severe wheat takes the bread away, for that dinner alone and for every visitor's eyes;
// the kitchen cannot put it back, and when the guest goes it comes back by itself.
func TestDishesOfADinner(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		layD1(t, h)
		s := tableSheet(t, h, "D1")
		if len(s.Dishes) != 10 {
			t.Errorf("%d dishes on the menu of a pig clinic, want 10", len(s.Dishes))
		}
		for _, d := range s.Dishes {
			away := d.Name == "bread"
			if (len(d.Away) > 0) != away || (d.Cannot > 0) != away {
				t.Errorf("%+v", d)
			}
			if d.Marks[0] == tableplan.Holds != away || d.Marks[1] != tableplan.Ask {
				t.Errorf("%s: %v against %v", d.Name, d.Marks, s.All.Lines)
			}
		}
		class(t, h, "D3", "pig", "2026-10-29 18:00")
		other := tableSheet(t, h, "D3")
		if l := dishNamed(t, other.Menu, "bread"); len(l.Away) != 0 || !l.Served {
			t.Errorf("D3 goes without bread too: %+v", l)
		}
		page, err := h.ClassPage(h.Ctx, "D1")
		if err != nil {
			t.Fatal(err)
		}
		if l := dishNamed(t, page.Dishes, "bread"); len(l.Away) != 1 {
			t.Errorf("the class page offers bread: %+v", l)
		}

		all := func(lines []store.MenuLine, but ...string) (ids []shop.DishID) {
			for _, l := range lines {
				if l.Served && !slices.Contains(but, l.Name) {
					ids = append(ids, l.ID)
				}
			}
			return ids
		}
		err = h.SetMenu(h.Ctx, nadia, "D1", all(s.Menu))
		if e, ok := shop.AsError(err); !ok || !strings.Contains(e.Fields["dish"], "bread holds wheat, which somebody at this table marked severe") {
			t.Errorf("bread put back on the table: %v", err)
		}
		// Without the cheese, with the roast beef of another dinner.
		beef := dishNamed(t, s.Menu, "roast beef")
		if beef.OnMenu || beef.Served {
			t.Errorf("%+v", beef)
		}
		h.Go("2026-10-13 10:00") // the sheet has frozen
		want := append(all(s.Menu, "bread", "cheese"), beef.ID)
		if err := h.SetMenu(h.Ctx, nadia, "D1", want); err != nil {
			t.Fatal(err)
		}
		if err := h.SetMenu(h.Ctx, nadia, "D1", want); err != nil { // pressed again
			t.Fatal(err)
		}
		s = tableSheet(t, h, "D1")
		if dishNamed(t, s.Menu, "cheese").Served || !dishNamed(t, s.Menu, "roast beef").Served {
			t.Error("what the kitchen said is not on the sheet")
		}
		var said []string
		for _, c := range s.Changes {
			said = append(said, c.What)
		}
		if text := strings.Join(said, "; "); !strings.Contains(text, "without one dish: cheese") || !strings.Contains(text, "one dish more: roast beef") || strings.Count(text, "cheese") != 1 {
			t.Errorf("changes after the freeze: %s", text)
		}
		// The coeliac goes: bread is back, the cheese stays away.
		b, err := h.BookingByNumber(h.Ctx, 39)
		if err != nil {
			t.Fatal(err)
		}
		in := shop.LeaveIn{}
		for _, m := range b.People {
			in.Seats = append(in.Seats, shop.SeatLeave{Seat: m.SeatID, Choice: "credit"})
		}
		if _, err := h.LetGo(h.Ctx, nadia, b.ID, in, store.Once{}); err != nil {
			t.Fatal(err)
		}
		s = tableSheet(t, h, "D1")
		if l := dishNamed(t, s.Menu, "bread"); !l.Served || len(l.Away) != 0 || dishNamed(t, s.Menu, "cheese").Served {
			t.Errorf("after the coeliac went: %+v", l)
		}
	})
}

// What a dish holds is the kitchen's to correct; what was said before stays in the history.
func TestDishesWrittenDown(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		for _, n := range []shop.NewDish{{}, {Name: "soup", Holds: []string{"onion"}}, {Name: "bread"}, {Name: "soup", Kinds: []string{"bacon"}}, {Name: strings.Repeat("x", 61)}} {
			if _, err := h.SaveDish(h.Ctx, nadia, 0, n); err == nil {
				t.Errorf("%+v was taken", n)
			}
		}
		id, err := h.SaveDish(h.Ctx, nadia, 0, shop.NewDish{Name: "  bean  soup", Holds: []string{"celery", "milk", "celery"}, Kinds: []string{"pig"}})
		if err != nil {
			t.Fatal(err)
		}
		dishes, kinds, err := h.Dishes(h.Ctx)
		if err != nil {
			t.Fatal(err)
		}
		i := slices.IndexFunc(dishes, func(d store.DishView) bool { return d.ID == id })
		if i < 0 || dishes[i].Name != "bean soup" || dishes[i].Holds != "milk,celery" || !slices.Equal(dishes[i].Kinds, []string{"pig"}) || len(kinds) != 5 {
			t.Fatalf("%+v %+v", dishes, kinds)
		}
		if _, err := h.SaveDish(h.Ctx, nadia, id, shop.NewDish{Name: "bean soup", Kinds: []string{"lamb"}}); err != nil {
			t.Fatal(err)
		}
		if _, err := h.SaveDish(h.Ctx, nadia, id+99, shop.NewDish{Name: "other soup"}); !notFound(err) {
			t.Errorf("a dish that is not there: %v", err)
		}
		if err := h.DropDish(h.Ctx, nadia, id); err != nil {
			t.Fatal(err)
		}
		if err := h.DropDish(h.Ctx, nadia, id); err == nil {
			t.Error("dropped twice")
		}
		again, err := h.SaveDish(h.Ctx, nadia, 0, shop.NewDish{Name: "bean soup", Holds: []string{"egg"}})
		if err != nil {
			t.Fatal(err)
		}
		if again != id {
			t.Errorf("cooked again it is another dish: %d, %d", again, id)
		}
	})
}

func notFound(err error) bool {
	e, ok := shop.AsError(err)
	return ok && e.Kind == shop.NotFound
}
