package store_test

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"gorm.io/gorm"
	"pgregory.net/rapid"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/steadytest"
	"flitchbook/planner/unit"
)

// A press is a step done on a device, at the time that device's clock showed.
type press struct {
	n         int
	tag, what string
	done      unit.Instant
	device    int
}

// A span is a hold of one slab, from when until when (0: it stands).
type span struct{ from, until unit.Instant }

// devices is a bench of several devices whose steps arrive late, twice, in any order or not
// at all for a while; a shop that stops and starts again; holds; and what hands have done.
type devices struct {
	*storetest.House
	g       *rapid.T
	sc      *scope
	slabs   int
	tags    []string // of slabs that have their belly
	counts  map[string]int
	n       int
	done    []press // every step anybody did
	waiting []press // on devices
	counted []press
	refused map[int]bool // by press: it did not count, and whoever did it knows
	holds   []shop.HoldID
	spans   map[string][]span
}

// benchChain is what is done to a slab one after another in these runs.
var benchChain = []struct {
	what string
	to   shop.SlabState
}{{"cut", shop.Cut}, {"kit", shop.Kitted}, {"weigh", shop.Kitted}, {"seal", shop.InCure}}

// skew is how wrong each device's clock is, in seconds: less than what the shop lets pass.
var skew = []int64{0, -55, 55}

// TestDevicesAtTheBench: whatever order the steps of several devices arrive in, how often and
// how late, by clocks that differ, and wherever the shop stops meanwhile: no slab is lost, none
// moves twice or stands in another's place, nothing done during a hold counts, and in the end
// each is where hands have put it.
func TestDevicesAtTheBench(t *testing.T) {
	for _, d := range []struct {
		name string
		url  func(testing.TB) string
	}{
		{"sqlite", func(t testing.TB) string { return "sqlite:" + filepath.Join(t.TempDir(), "shop.db") }},
		{"postgres", func(t testing.TB) string { return storetest.PostgresURL(t) }},
	} {
		t.Run(d.name, func(t *testing.T) {
			if d.name == "postgres" {
				storetest.PostgresURL(t) // says so at once where there is no server
			}
			steadytest.Steps(t, "8", "90")
			total := map[string]int{}
			rapid.Check(t, func(g *rapid.T) {
				sc := &scope{TB: t}
				defer sc.close()
				m := &devices{House: storetest.Open(sc, d.url(sc)), g: g, sc: sc, counts: total, refused: map[int]bool{}, spans: map[string][]span{}}
				m.lay()
				run := map[string]func(*rapid.T){"": func(g *rapid.T) { m.g = g; m.sound() }}
				for name, f := range map[string]func() bool{
					"do": m.do, "do more": m.do, "do still more": m.do, "do again": m.do, "colleague": m.colleague, "arrive": m.arrive, "arrive twice": m.arriveTwice, "at once": m.atOnce,
					"all arrive": m.allArrive, "crash": m.crash, "hold": m.hold, "release": m.release, "later": m.later,
				} {
					run[name] = func(g *rapid.T) {
						m.g = g
						if f() {
							m.counts[name]++
						}
					}
				}
				g.Repeat(run)
				m.g = g
				m.settle()
			})
			t.Logf("done: %v", total)
			for _, what := range []string{"do", "colleague", "arrive", "arrive twice", "at once", "crash", "hold", "release", "all arrive", "counted", "too soon", "on hold", "in cure"} {
				if total[what] == 0 {
					t.Errorf("these runs never came to %q", what)
				}
			}
		})
	}
}

// lay sells a class, buys its meat and brings it to the table, as the shop does.
func (m *devices) lay() {
	s := &thread{House: m.House, g: m.g, by: storetest.Odile, released: map[shop.SlabID]bool{}, given: map[shop.BookingID]bool{}, done: map[string]int{}}
	m.Go("2026-09-14 10:00")
	m.must(s.sketch("B1", "2026-10-10 14:00"))
	for i, name := range []string{"Imke S.", "Jens T."} {
		v, err := m.Book(m.Ctx, shop.Customer("visitor"), shop.NewBooking{Class: "B1", PayerName: name, PayerEmail: fmt.Sprintf("payer%d@post.example.test", i),
			People: []shop.NewPerson{{Payer: true, Picks: []string{"PB"}}, {Name: "A friend", Picks: []string{"GP"}}}}, store.Once{})
		m.must(err)
		s.payIn(v.ID, 0)
	}
	s.buy("B1", 2)
	m.Go("2026-10-08 15:30")
	m.must(m.RunDue(m.Ctx))
	s.receive(s.orders[0])
	_, err := m.MakeCutList(m.Ctx, storetest.Odile, s.orders[0])
	m.must(err)
	m.Go("2026-10-10 09:00")
	m.must(m.RunDue(m.Ctx))
	var slabs []shop.Slab
	m.rows(&slabs, "1 = 1")
	m.slabs = len(slabs)
	for _, sl := range slabs {
		if sl.BellyID != 0 { // an animal may have been condemned
			m.tags = append(m.tags, sl.Tag)
		}
	}
	if len(m.tags) < 4 {
		m.g.Fatalf("%d slabs lie on the table", len(m.tags))
	}
	m.must(m.CheckScale(m.Ctx, storetest.Tobias, "cure scale", 5*unit.Gram))
	m.Clock.Add(time.Hour)
}

// do is a hand doing a slab's next step; the device keeps it. Now and then nobody has heard
// that the slab is on hold.
func (m *devices) do() bool {
	tag := rapid.SampledFrom(m.tags).Draw(m.g, "tag")
	i := slices.IndexFunc(benchChain, func(s struct {
		what string
		to   shop.SlabState
	}) bool {
		return !slices.ContainsFunc(m.done, func(p press) bool { return p.tag == tag && p.what == s.what && !m.refused[p.n] })
	})
	if i < 0 || m.held(tag) && rapid.IntRange(0, 3).Draw(m.g, "nobody heard") > 0 {
		return false
	}
	m.Clock.Add(time.Duration(rapid.IntRange(3, 200).Draw(m.g, "seconds")) * time.Second)
	m.press(tag, benchChain[i].what, rapid.IntRange(0, 2).Draw(m.g, "device"))
	return true
}

func (m *devices) press(tag, what string, device int) {
	m.n++
	p := press{m.n, tag, what, m.Now() + unit.Instant(skew[device]), device}
	m.done, m.waiting = append(m.done, p), append(m.waiting, p)
}

// colleague does what another has just done and not sent: two hands, one slab, one step.
func (m *devices) colleague() bool {
	if len(m.waiting) == 0 {
		return false
	}
	p := rapid.SampledFrom(m.waiting).Draw(m.g, "the same as")
	if slices.ContainsFunc(m.done, func(o press) bool { return o.tag == p.tag && o.n > p.n }) {
		return false
	}
	m.Clock.Add(time.Second)
	m.press(p.tag, p.what, (p.device+rapid.IntRange(1, 2).Draw(m.g, "other device"))%3)
	return true
}

// sending makes a step ready to send: what it does is fixed before several go at once.
func (m *devices) sending(p press) func() error {
	by := storetest.Tobias
	by.Device = fmt.Sprint("device ", p.device)
	sc := store.Scan{Tag: p.tag, DoneAt: p.done, Once: fmt.Sprint("press ", p.n)}
	sl := m.slab(p.tag)
	switch p.what {
	case "cut":
		return func() error {
			return m.CutSlab(m.Ctx, by, sc, store.Cutting{Weight: sl.Planned, SkinOn: sl.SkinOn, GuestYes: true})
		}
	case "kit":
		return func() error { return m.Kit(m.Ctx, by, sc) }
	case "weigh":
		in := store.Weighed{Salt: "44", Sugar: "22", Cure: "5.0", Spice: "18", Scale: "cure scale"}
		var k []shop.CureTicket
		if m.rows(&k, "superseded_at = 0 AND slab_id = ?", sl.ID); len(k) > 0 {
			in = weighed(k[0])
		}
		return func() error { return m.WeighOut(m.Ctx, by, sc, in) }
	}
	return func() error { return m.Seal(m.Ctx, by, sc, "") }
}

func (m *devices) slab(tag string) shop.Slab {
	var s []shop.Slab
	m.rows(&s, "tag = ?", tag)
	if len(s) != 1 {
		m.g.Fatalf("%s is there %d times", tag, len(s))
	}
	return s[0]
}

func (m *devices) rows(out any, where string, args ...any) {
	m.must(m.Rows(m.Ctx, func(db *gorm.DB) error { return db.Order("id").Where(where, args...).Find(out).Error }))
}

func (m *devices) must(err error) {
	if err != nil {
		m.g.Helper()
		m.g.Fatal(err)
	}
}

func (m *devices) held(tag string) bool {
	return slices.ContainsFunc(m.spans[tag], func(s span) bool { return s.until == 0 })
}

// during says whether a moment lies in a hold of a slab.
func (m *devices) during(tag string, at unit.Instant) bool {
	return slices.ContainsFunc(m.spans[tag], func(s span) bool { return s.from <= at && (s.until == 0 || at < s.until) })
}

// twin says whether a colleague's same step has counted.
func (m *devices) twin(p press) bool {
	return slices.ContainsFunc(m.counted, func(o press) bool { return o.n != p.n && o.tag == p.tag && o.what == p.what })
}

// overtook says whether a step of the same slab has counted that was done so much later that
// this one's clock must be wrong: a step done again after a hold, while what once followed
// the refused one was on its way.
func (m *devices) overtook(p press) bool {
	return slices.ContainsFunc(m.counted, func(o press) bool { return o.tag == p.tag && o.done > p.done+120 })
}

// answered takes the shop's answer to a step: it counted, is kept for later (false), or is
// refused for a reason these runs know of.
func (m *devices) answered(p press, err error) bool {
	e, no := shop.AsError(err)
	switch {
	case err == nil:
		if m.during(p.tag, p.done) {
			m.g.Fatalf("%s of %s was done during a hold, and counts", p.what, p.tag)
		}
		m.counts["counted"]++
		m.counted = append(m.counted, p)
	case !no:
		m.g.Fatalf("%s of %s: not a no that people can read: %v", p.what, p.tag, err)
	case e.Code == "on_hold":
		if !m.during(p.tag, p.done) {
			m.g.Fatalf("%s of %s was done before any hold or after it: %v", p.what, p.tag, err)
		}
		m.counts["on hold"]++
		m.refused[p.n] = true
	case (e.Code == "not_yet" || e.Code == "no_weigh_out") && !m.twin(p):
		m.counts["too soon"]++
		return false
	case m.twin(p):
		m.counts["a colleague was faster"]++
		m.refused[p.n] = true
	case e.Code == "clock_slow" && m.overtook(p):
		m.counts["done again since"]++
		m.refused[p.n] = true
	default:
		m.g.Fatalf("%s of %s: %v", p.what, p.tag, err)
	}
	m.waiting = slices.DeleteFunc(m.waiting, func(o press) bool { return o.n == p.n })
	return true
}

func (m *devices) arrive() bool {
	if len(m.waiting) == 0 {
		return false
	}
	p := rapid.SampledFrom(m.waiting).Draw(m.g, "which")
	return m.answered(p, m.sending(p)())
}

// arriveTwice sends again what has counted, as a device does whose answer was lost.
func (m *devices) arriveTwice() bool {
	if len(m.counted) == 0 {
		return false
	}
	p := rapid.SampledFrom(m.counted).Draw(m.g, "again")
	was := m.slab(p.tag)
	if err := m.sending(p)(); err != nil {
		m.g.Fatalf("%s of %s counted, and is refused when it comes again: %v", p.what, p.tag, err)
	}
	if now := m.slab(p.tag); now != was {
		m.g.Fatalf("%s of %s counted twice: %+v, %+v", p.what, p.tag, was, now)
	}
	return true
}

// atOnce sends a step and its colleague's together, each twice.
func (m *devices) atOnce() bool {
	if len(m.waiting) == 0 {
		return false
	}
	one := rapid.SampledFrom(m.waiting).Draw(m.g, "which")
	if !slices.ContainsFunc(m.done, func(o press) bool { return o.tag == one.tag && o.n > one.n }) {
		m.press(one.tag, one.what, (one.device+1)%3)
	}
	var group []press
	var send []func() error
	for _, p := range m.waiting {
		if p.tag == one.tag && p.what == one.what {
			group = append(group, p, p)
			send = append(send, m.sending(p), m.sending(p))
		}
	}
	got := make([]error, len(send))
	var wg sync.WaitGroup
	for i, f := range send {
		wg.Go(func() { got[i] = f() })
	}
	wg.Wait()
	// What counted first: it says how the others must be read.
	counted := map[int]bool{}
	for i, p := range group {
		if got[i] == nil && !counted[p.n] {
			counted[p.n] = true
			m.answered(p, nil)
		}
	}
	for i, p := range group {
		if i%2 == 1 || counted[p.n] {
			continue // a device asks until it has one answer that stands
		}
		m.answered(p, got[i])
	}
	return true
}

// allArrive is the signal coming back: every device sends until nothing more is taken.
func (m *devices) allArrive() bool {
	if len(m.waiting) < 3 {
		return false
	}
	m.send()
	return true
}

// send is every device sending, the last done first.
func (m *devices) send() {
	for more := true; more; {
		more = false
		for _, p := range slices.Backward(slices.Clone(m.waiting)) {
			more = m.answered(p, m.sending(p)()) || more
		}
	}
}

var errStopped = errors.New("the shop stopped")

// crash is a shop that stops in the middle of a step and starts again on its database:
// nothing of the step is left, and the device still has it.
func (m *devices) crash() bool {
	tag := rapid.SampledFrom(m.tags).Draw(m.g, "cut short")
	was := m.slab(tag)
	err := m.Rows(m.Ctx, func(db *gorm.DB) error {
		err := db.Exec("UPDATE slabs SET state = ?, revision = revision + 1 WHERE tag = ?", shop.InCure, tag).Error
		return errors.Join(err, errStopped)
	})
	if !errors.Is(err, errStopped) {
		m.g.Fatal(err)
	}
	if m.slab(tag) != was {
		m.g.Fatalf("half a step of %s stayed", tag)
	}
	now := m.Now()
	m.Broken = true // closed before the run ends: the shop opened next is held to account
	m.must(m.Close())
	m.House = storetest.Bare(m.sc, m.URL)
	m.Clock.Set(now)
	return true
}

func (m *devices) hold() bool {
	tag := rapid.SampledFrom(m.tags).Draw(m.g, "tag")
	if m.held(tag) {
		return false
	}
	m.Clock.Add(time.Second)
	id, err := m.OpenHold(m.Ctx, storetest.Odile, "", []string{tag}, "the bag leaks")
	m.must(err)
	m.holds = append(m.holds, id)
	m.spans[tag] = append(m.spans[tag], span{from: m.Now()})
	m.Clock.Add(time.Second)
	return true
}

func (m *devices) release() bool {
	if len(m.holds) == 0 {
		return false
	}
	i := rapid.IntRange(0, len(m.holds)-1).Draw(m.g, "hold")
	m.Clock.Add(time.Second)
	var on []shop.Slab
	m.rows(&on, "id IN (SELECT slab_id FROM hold_slabs WHERE hold_id = ?)", m.holds[i])
	m.must(m.Release(m.Ctx, storetest.Odile, m.holds[i], nil, "looked at it"))
	m.holds = slices.Delete(m.holds, i, i+1)
	for _, s := range on {
		m.spans[s.Tag][len(m.spans[s.Tag])-1].until = m.Now()
	}
	m.Clock.Add(time.Second)
	return true
}

func (m *devices) later() bool {
	m.Clock.Add(time.Duration(rapid.IntRange(1, 20).Draw(m.g, "minutes")) * time.Minute)
	return true
}

// sound is what must be true at every moment, whatever is still on its way.
func (m *devices) sound() {
	found, err := m.Check(m.Ctx)
	m.must(err)
	for _, f := range found {
		if len(f.Broken) > 0 {
			m.g.Fatalf("%s: %v", f.Rule, f.Broken)
		}
	}
	var slabs []shop.Slab
	m.rows(&slabs, "1 = 1")
	if len(slabs) != m.slabs {
		m.g.Fatalf("%d slabs, there were %d", len(slabs), m.slabs)
	}
	var steps []shop.Step
	m.rows(&steps, "counted = ? AND from_state <> to_state AND from_state <> ? AND to_state <> ?", true, shop.OnHold, shop.OnHold)
	for _, s := range slabs {
		if (s.State == shop.OnHold) != m.held(s.Tag) {
			m.g.Fatalf("%s is %q, held: %v", s.Tag, s.State, m.held(s.Tag))
		}
		at := shop.Wanted
		for _, st := range steps {
			if st.SlabID != s.ID {
				continue
			}
			if st.From != at {
				m.g.Fatalf("%s became %q from %q, it was %q", s.Tag, st.To, st.From, at)
			}
			at = st.To
			if !slices.ContainsFunc(m.done, func(p press) bool { return p.tag == s.Tag && p.done == st.DoneAt && becomes(p) == st.To }) {
				m.g.Fatalf("%s became %q at a moment nobody did it: %s", s.Tag, st.To, st.DoneAt.Show(m.Loc))
			}
		}
		if where := m.where(s); where != at {
			m.g.Fatalf("%s is %q, its steps end at %q", s.Tag, where, at)
		}
		if put := m.put(s.Tag); at != put {
			m.g.Fatalf("%s is %q, what counted of it makes it %q", s.Tag, at, put)
		}
		if at != shop.Wanted && s.Green != s.Planned {
			m.g.Fatalf("%s weighs %s, it was cut at %s", s.Tag, s.Green.LB(), s.Planned.LB())
		}
	}
}

func (m *devices) where(s shop.Slab) shop.SlabState {
	if s.State == shop.OnHold {
		return s.HeldFrom
	}
	return s.State
}

func becomes(p press) shop.SlabState {
	for _, s := range benchChain {
		if s.what == p.what {
			return s.to
		}
	}
	return ""
}

// put is where the steps that counted have put a slab.
func (m *devices) put(tag string) shop.SlabState {
	at := shop.Wanted
	for _, s := range benchChain {
		if !slices.ContainsFunc(m.counted, func(p press) bool { return p.tag == tag && p.what == s.what }) {
			break
		}
		at = s.to
	}
	return at
}

// settle lets everything arrive and every hold be released. What still waits then follows a
// step that was refused and has not been done again; every other slab is where hands put it.
func (m *devices) settle() {
	m.send()
	for len(m.holds) > 0 {
		m.release()
	}
	m.send()
	m.sound()
	for _, p := range m.waiting {
		i := slices.IndexFunc(benchChain, func(s struct {
			what string
			to   shop.SlabState
		}) bool {
			return !slices.ContainsFunc(m.counted, func(o press) bool { return o.tag == p.tag && o.what == s.what })
		})
		if benchChain[i].what == p.what || !slices.ContainsFunc(m.done, func(o press) bool {
			return o.tag == p.tag && o.what == benchChain[i].what && m.refused[o.n]
		}) {
			m.g.Fatalf("still on a device, and nothing before it was refused: %+v", p)
		}
	}
	for _, tag := range m.tags {
		m.counts[string(m.slab(tag).State)]++
	}
}
