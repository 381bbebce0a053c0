package frontend

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
)

var bookPages = map[string]Page{
	"book": {Public, BookPage{}},
}

// BookPage asks first for how many, then for who comes. The same form joins the waiting
// list of a full class.
type BookPage struct {
	Layout
	Class   store.ClassPage
	Room    Room
	Form    Form
	People  []BookPerson // none: only the numbers are asked for
	Second  int          // second slabs the rows below have room for
	Quote   store.PartyQuote
	Picks   []Choice
	Change  []string
	Wait    bool   // the page of the waiting list
	Offer   bool   // the class has filled up meanwhile: offer the waiting list with the same answers
	Hold    string // how long seats are held
	Deposit int
	Share   string
}

// BookPerson is one row of the form.
type BookPerson struct {
	N        int
	Legend   string
	First    bool
	Watching bool
	Slabs    []int // 1, or 1 and 2
	Dinner   bool
	Needs    NeedsField
}

func (s *Site) bookRoutes(e *echo.Echo) {
	e.GET("/classes/:code/book", func(c echo.Context) error { return s.bookForm(c, false) })
	e.POST("/classes/:code/book", func(c echo.Context) error { return s.book(c, false) })
	e.GET("/classes/:code/wait", func(c echo.Context) error { return s.bookForm(c, true) })
	e.POST("/classes/:code/wait", func(c echo.Context) error { return s.book(c, true) })
}

func (s *Site) bookForm(c echo.Context, wait bool) error {
	class, err := s.Store.ClassPage(c.Request().Context(), c.Param("code"))
	if err != nil {
		return err
	}
	q := c.QueryParams()
	f := Form{Values: url.Values{}}
	for _, name := range []string{"seats", "watch", "second"} {
		if v := q.Get(name); v != "" {
			f.Values.Set(name, v)
		}
	}
	numbers := len(f.Values) > 0
	if code := trimmed(q, "voucher"); code != "" {
		f.Values.Set("voucher", code) // from a voucher's page: it goes along to where one pays
	}
	if !numbers {
		return s.showBook(c, http.StatusOK, class, f, party{}, wait)
	}
	p := readParty(&f, class)
	if !f.OK() {
		return s.showBook(c, http.StatusUnprocessableEntity, class, f, party{}, wait)
	}
	f.Values.Set("me", "yes")
	return s.showBook(c, http.StatusOK, class, f, p, wait)
}

// party is how many seats of each sort were asked for.
type party struct{ seats, watch, second int }

func (p party) people() int { return p.seats + p.watch }

func (p party) count() shop.Party {
	return shop.Party{Places: p.seats, Watching: p.watch, Slabs: p.seats + p.second}
}

// readParty reads the numbers and says what is wrong with them beside each.
func readParty(f *Form, class *store.ClassPage) party {
	number := func(name, what string) int {
		typed := strings.TrimSpace(f.Values.Get(name))
		if typed == "" {
			return 0
		}
		n, err := strconv.Atoi(typed)
		if err != nil || n < 0 {
			f.Fail(name, fmt.Sprintf("Write how many %s as a whole number, such as 2.", what))
			return 0
		}
		return n
	}
	p := party{seats: number("seats", "seats"), watch: number("watch", "watching seats"), second: number("second", "second slabs")}
	if _, bad := f.Errors["seats"]; !bad {
		switch {
		case p.seats == 0 && p.watch > 0:
			f.Fail("seats", "A watching seat needs somebody with a slab beside it.")
		case p.seats == 0:
			f.Fail("seats", "Choose at least one seat.")
		case p.seats > class.Seats:
			f.Fail("seats", fmt.Sprintf("This class has %d seats in all. For more people, ask us for a party of your own.", class.Seats))
		}
	}
	if !f.OK() {
		return p
	}
	switch {
	case p.watch > 0 && class.WatchAge == 0:
		f.Fail("watch", "There are no watching seats in this class.")
	case p.watch > p.seats:
		f.Fail("watch", "At most one watching seat for each seat with a slab.")
	}
	switch {
	case p.second > 0 && !class.Slabs:
		f.Fail("second", "There are no slabs in this class.")
	case p.second > p.seats:
		f.Fail("second", "At most one second slab on each seat.")
	}
	return p
}

func (s *Site) showBook(c echo.Context, status int, class *store.ClassPage, f Form, p party, wait bool) error {
	f.Once = s.once()
	if kept := f.Values.Get("once"); kept != "" && status != http.StatusOK {
		f.Once = kept // nothing was counted under it
	}
	title := "Book seats"
	if wait {
		title = "Join the waiting list"
	}
	page := BookPage{Layout: s.Layout(c, title), Class: *class, Room: s.room(class.ClassCard), Form: f, Wait: wait, Change: changeWords(s.Store.Rules),
		Hold: plural(class.HoldMinutes, "minute", "minutes"), Deposit: s.Store.Rules.PartyDeposit, Share: s.Store.Rules.DepositShare.String(), Picks: pickChoices(class.Jars)}
	if s.Demo == nil {
		page.Hold = plural(s.Store.Rules.HoldCounter, "hour", "hours")
	}
	page.Form.Order = []string{"seats", "watch", "second", "people", "name", "email", "phone"}
	page.Second = p.second
	for i := range p.people() {
		n := i + 1
		if at := fmt.Sprintf("p%d_needs", n); !f.Values.Has(at) {
			f.Values.Set(at, string(shop.NotTold))
		}
		row := BookPerson{N: n, Legend: fmt.Sprintf("Person %d", n), First: i == 0, Watching: i >= p.seats, Dinner: class.Dinner,
			Needs: needsField(&page.Form, fmt.Sprintf("p%d_", n), false, s.Store.Rules.EraseDays)}
		switch {
		case row.Watching:
			row.Legend += ", watching"
		case class.Slabs && i < p.second:
			row.Legend, row.Slabs = row.Legend+", two slabs", []int{1, 2}
		case class.Slabs:
			row.Slabs = []int{1}
		}
		for _, field := range []string{"name", "email", "age", "needs", "needs_words", "pick1", "pick2"} {
			page.Form.Order = append(page.Form.Order, fmt.Sprintf("p%d_%s", n, field))
		}
		page.People = append(page.People, row)
	}
	if p.people() > 0 {
		page.Quote = s.Store.PartyQuote(class.ClassCard, p.count())
	}
	page.Offer = !wait && status == http.StatusConflict && class.OnSale && p.seats > class.Left
	return s.Render(c, status, "book", page)
}

// pickChoices are the jars on the table of a class. A jar kept away is shown, without a
// word why (R13).
func pickChoices(jars []store.JarChoice) []Choice {
	out := []Choice{{Value: "", Label: "I choose later"}, {Value: shop.OnTheDayPick, Label: "Choose at the table"}}
	for _, j := range jars {
		c := Choice{Value: j.Code, Label: j.Name, Off: j.Away}
		if j.Away {
			c.Label += " (not on the table that day)"
		} else if j.Allergens != "" {
			c.Label += " (holds " + spaced(j.Allergens) + ")"
		}
		out = append(out, c)
	}
	return out
}

func (s *Site) book(c echo.Context, wait bool) error {
	ctx := c.Request().Context()
	class, err := s.Store.ClassPage(ctx, c.Param("code"))
	if err != nil {
		return err
	}
	f, err := formOf(c)
	if err != nil {
		return err
	}
	p := readParty(&f, class)
	if !f.OK() {
		// The people typed so far stay on the page whatever became of the numbers.
		rows, _ := strconv.Atoi(f.Values.Get("rows"))
		second, _ := strconv.Atoi(f.Values.Get("had_second"))
		kept := party{seats: min(max(rows, 0), class.Seats)}
		kept.second = min(max(second, 0), kept.seats)
		return s.showBook(c, http.StatusUnprocessableEntity, class, f, kept, wait)
	}
	if f.Values.Get("do") == "count" {
		return s.showBook(c, http.StatusOK, class, f, p, wait)
	}
	if rows := strconv.Itoa(p.people()); f.Values.Get("rows") != rows || f.Values.Get("had_second") != strconv.Itoa(p.second) {
		f.Fail("people", fmt.Sprintf("You changed the numbers. Here is a row for each of %s; please look through them and press again.", plural(p.people(), "person", "people")))
		return s.showBook(c, http.StatusUnprocessableEntity, class, f, p, wait)
	}
	n := readBooking(&f, class, p)
	if !f.OK() {
		return s.showBook(c, http.StatusUnprocessableEntity, class, f, p, wait)
	}
	once := store.Once{Key: f.Values.Get("once"), Fingerprint: fingerprint(f.Values, class.Code)}
	by, to := shop.Customer("online"), "/pay"
	n.PayLater = s.Demo == nil // without a till on these pages there is time to come by
	do := s.Store.Book
	if wait {
		do, to = s.Store.JoinWaiting, ""
	}
	if code := trimmed(f.Values, "voucher"); code != "" && !wait {
		to += "?codes=" + url.QueryEscape(code)
	}
	b, err := do(ctx, by, n, once)
	if err == nil {
		return c.Redirect(http.StatusSeeOther, "/b/"+b.Secret+to)
	}
	if e, ok := shop.AsError(err); ok && e.Code == "key_reused" {
		f.Values.Del("once")
		f.Fail("", "You have pressed this once already, with other answers, and that booking stands: its private link is in your mail. To book these seats as well, press again.")
		return s.showBook(c, http.StatusConflict, class, f, p, wait)
	}
	if !refused(&f, err) {
		return err
	}
	if fresh, ferr := s.Store.ClassPage(ctx, class.Code); ferr == nil {
		class = fresh // as full as it is by now
	}
	return s.showBook(c, api.Status(err), class, f, p, wait)
}

// readBooking reads who comes. Names and answers may stay open.
func readBooking(f *Form, class *store.ClassPage, p party) shop.NewBooking {
	v := f.Values
	n := shop.NewBooking{Class: class.Code, PayerName: strings.TrimSpace(v.Get("name")), PayerEmail: strings.TrimSpace(v.Get("email")), PayerPhone: v.Get("phone"),
		Collector: v.Get("collector"), CollectorMail: strings.TrimSpace(v.Get("collector_mail")), Sliced: v.Get("sliced") == "yes", Note: v.Get("note")}
	for i := range p.people() {
		at := fmt.Sprintf("p%d_", i+1)
		m := shop.NewPerson{Name: strings.TrimSpace(v.Get(at + "name")), Email: strings.TrimSpace(v.Get(at + "email")), Payer: i == 0 && v.Get("me") == "yes",
			Second: i < p.second, Wine: v.Get(at+"wine") == "yes", Age: readAge(f, at+"age"), Needs: readNeeds(f, at)}
		switch {
		case i >= p.seats:
			m.Seat = shop.WatchSeat
		case class.Slabs:
			for slot := range shop.Count([]shop.NewPerson{{Seat: shop.SlabSeat, Second: m.Second}}).Slabs {
				m.Picks = append(m.Picks, v.Get(fmt.Sprintf("%spick%d", at, slot+1)))
			}
		}
		n.People = append(n.People, m)
	}
	return n
}

// readAge reads the age of somebody under 18; empty is a grown-up.
func readAge(f *Form, name string) int {
	typed := strings.TrimSpace(f.Values.Get(name))
	if typed == "" {
		return 0
	}
	age, err := strconv.Atoi(typed)
	if err != nil || age < 1 {
		f.Fail(name, "Write the age in whole years, such as 12, or leave it empty for a grown-up.")
	}
	return age
}

// NeedsField is the question about food, asked of one person.
type NeedsField struct {
	Form      Form
	At        string // prefix of the fields' names
	EraseDays int    // how long an answer is kept (R14)
	Choices   []Choice
	Allergens []NeedRow
}

// NeedRow is one line of its table.
type NeedRow struct {
	Name        string
	Not, Severe bool
}

// needsField builds the question. told keeps an answer given before out of sight: the
// page's link may have passed through other hands.
func needsField(f *Form, at string, told bool, eraseDays int) NeedsField {
	n := NeedsField{Form: *f, At: at, EraseDays: eraseDays, Choices: []Choice{
		{Value: string(shop.NotTold), Label: "I say later", Hint: "We ask again. Until then our sheets say ASK."},
		{Value: string(shop.NoNeeds), Label: "Nothing: eats everything"},
		{Value: string(shop.HasNeeds), Label: "There is something"},
	}}
	if told {
		n.Choices[0] = Choice{Value: "", Label: "Leave the answer as it is"}
	}
	not, severe := f.Values[at+"need"], f.Values[at+"severe"]
	for _, a := range shop.Allergens {
		n.Allergens = append(n.Allergens, NeedRow{Name: a, Not: slices.Contains(not, a), Severe: slices.Contains(severe, a)})
	}
	return n
}

// readNeeds reads the answer about food. A severe need counts as a need.
func readNeeds(f *Form, at string) shop.Answers {
	v := f.Values
	a := shop.Answers{State: shop.NeedsState(v.Get(at + "needs")), Remember: v.Get(at+"remember") == "yes"}
	if a.State != shop.HasNeeds {
		// Ticks under an answer that says there is nothing are a contradiction the shop's
		// rule names; "later" with ticks is taken as what was ticked.
		if len(v[at+"need"])+len(v[at+"severe"]) == 0 {
			return a
		}
		if a.State != shop.NoNeeds {
			a.State = shop.HasNeeds
		}
	}
	words := strings.TrimSpace(v.Get(at + "needs_words"))
	for _, name := range shop.Allergens {
		severe := slices.Contains(v[at+"severe"], name)
		if !severe && !slices.Contains(v[at+"need"], name) && !(name == "other" && words != "") {
			continue
		}
		need := shop.NewNeed{Allergen: name, Severe: severe}
		if name == "other" {
			need.Words = words
		}
		a.Needs = append(a.Needs, need)
	}
	for _, given := range append(slices.Clone(v[at+"need"]), v[at+"severe"]...) {
		if !slices.Contains(shop.Allergens, given) {
			f.Fail(at+"needs", fmt.Sprintf("%q is not on our list; tick \"other\" and write it beside.", given))
		}
	}
	return a
}
