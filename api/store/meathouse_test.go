package store_test

import (
	"fmt"
	"testing"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/unit"
)

// meatHouse is the demo shop with the few words the tests of the meat need.
type meatHouse struct {
	*storetest.House
	t *testing.T
}

func eachMeat(t *testing.T, test func(t *testing.T, h *meatHouse)) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) { test(t, &meatHouse{House: h, t: t}) })
}

func (h *meatHouse) must(err error) {
	h.t.Helper()
	if err != nil {
		h.t.Fatal(err)
	}
}

func get[T any](h *meatHouse, sql string, args ...any) T {
	h.t.Helper()
	v, err := store.Get[T](h.Ctx, h.Store, sql, args...)
	h.must(err)
	return v
}

// class sketches and publishes a class; a P in front makes it a private party.
func (h *meatHouse) class(code, kind, starts string, n, demo int) shop.ClassID {
	h.t.Helper()
	return class(h.t, h.House, code, kind, starts, seats(n), func(c *shop.NewClass) { c.DemoSlabs, c.Private = demo, code[0] == 'P' }).ID
}

func (h *meatHouse) id(code string) shop.ClassID {
	h.t.Helper()
	return get[shop.ClassID](h, "SELECT id FROM classes WHERE code = ?", code)
}

// sell books and pays seats: slabs gives the slabs of each, 0 for a clinic's.
func (h *meatHouse) sell(code string, number int, name string, slabs ...int) *store.BookingView {
	h.t.Helper()
	n := party(code, name, len(slabs))
	n.Number, n.Counter = number, true
	for i, k := range slabs {
		n.People[i].Second = k == 2
	}
	b, err := h.Book(h.Ctx, nadia, n, store.Once{})
	h.must(err)
	return pay(h.t, h.House, b, shop.PaymentIn{Cents: b.DueNow}).Booking
}

// guests sells places of a clinic.
func (h *meatHouse) guests(code string, number int, name string, n int) {
	h.sell(code, number, name, make([]int, n)...)
}

// ones is n seats with a slab each.
func ones(n int) []int {
	s := make([]int, n)
	for i := range s {
		s[i] = 1
	}
	return s
}

func (h *meatHouse) day(s string) unit.Day {
	h.t.Helper()
	d, err := unit.ParseDay(s)
	h.must(err)
	return d
}

func lb(s string) unit.Weight {
	w, err := unit.ParseWeightIn(s, unit.Pound)
	if err != nil {
		panic(err)
	}
	return w
}

// promise drafts, sends and has an order promised.
func (h *meatHouse) promise(kill, farm, species string, animals int, classes ...string) *shop.Order {
	h.t.Helper()
	o, err := h.DraftOrder(h.Ctx, storetest.Odile, store.NewOrder{Kill: h.day(kill), Farm: farm, Species: species, Animals: animals, Basis: "full", Classes: classes})
	h.must(err)
	o, err = h.SendOrder(h.Ctx, storetest.Odile, o.ID)
	h.must(err)
	o, err = h.AnswerOrder(h.Ctx, h.OrderSecret(o), shop.FarmAnswer{Says: "yes"})
	h.must(err)
	return o
}

// killed records a kill; hot "" is a condemned carcass.
func (h *meatHouse) killed(o *shop.Order, at string, hot ...string) {
	h.t.Helper()
	h.Go(at)
	var animals []shop.KilledAnimal
	for i, w := range hot {
		a := shop.KilledAnimal{Tag: fmt.Sprintf("HB-%d%d", o.Number, i+1)}
		if w == "" {
			a.Condemned = true
		} else {
			a.Hot = lb(w)
		}
		animals = append(animals, a)
	}
	_, err := h.RecordKill(h.Ctx, storetest.Odile, o.ID, animals)
	h.must(err)
}

// sides writes pairs of cold weights, left first.
func sides(colds ...string) []shop.DeliveredSide {
	var out []shop.DeliveredSide
	for i, c := range colds {
		out = append(out, shop.DeliveredSide{Animal: i/2 + 1, Which: string("LR"[i%2]), Cold: lb(c)})
	}
	return out
}

const mark = "EST. 0000-DEMO"

func (h *meatHouse) delivered(o *shop.Order, at string, colds ...string) *store.Recount {
	h.t.Helper()
	h.Go(at)
	r, err := h.ReceiveDelivery(h.Ctx, storetest.Tobias, o.ID, mark, sides(colds...))
	h.must(err)
	return r
}

func (h *meatHouse) order(id shop.OrderID) shop.Order {
	h.t.Helper()
	return get[shop.Order](h, "SELECT * FROM orders WHERE id = ?", id)
}
