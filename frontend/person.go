package frontend

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
)

var personPages = map[string]Page{
	"person": {Shop, PersonPage{}},
}

// PersonPage is one person of a party as this class's staff see them: name, what they
// cannot eat, their spices.
type PersonPage struct {
	Layout
	Booking store.BookingView
	Person  store.GuestPage
	Name    Form
	Needs   Form
	Picks   Form
	States  []Choice
	List    []Choice // allergens
	Severe  []Choice
	Jars    []Choice
	Slabs   []store.PickView
	Called  string // how to speak of them
	Open    bool   // the seat stands
}

func (s *Site) personRoutes(e *echo.Echo) {
	staff := api.Need(shop.Staff)
	e.GET("/staff/bookings/:number/people/:guest", func(c echo.Context) error { return s.showPerson(c, http.StatusOK, nil) }, staff)
	e.POST("/staff/bookings/:number/people/:guest/name", s.personStep(func(p *PersonPage) *Form { return &p.Name }, renamePerson), staff)
	e.POST("/staff/bookings/:number/people/:guest/needs", s.personStep(func(p *PersonPage) *Form { return &p.Needs }, savePersonNeeds), staff)
	e.POST("/staff/bookings/:number/people/:guest/picks", s.personStep(func(p *PersonPage) *Form { return &p.Picks }, savePersonPicks), staff)
}

// person reads one of the people of the booking in the address; anybody else is not found.
func (s *Site) person(c echo.Context) (*store.BookingView, *store.PersonView, error) {
	b, err := s.numbered(c)
	if err != nil {
		return nil, nil, err
	}
	id, err := strconv.ParseInt(c.Param("guest"), 10, 64)
	if err != nil {
		return nil, nil, shop.Missing("This person")
	}
	i := slices.IndexFunc(b.People, func(m store.PersonView) bool { return m.GuestID == shop.GuestID(id) })
	if i < 0 {
		return nil, nil, shop.Missing("This person")
	}
	return b, &b.People[i], nil
}

func (s *Site) showPerson(c echo.Context, status int, change func(*PersonPage)) error {
	b, m, err := s.person(c)
	if err != nil {
		return err
	}
	g, err := s.Store.GuestByID(c.Request().Context(), m.GuestID)
	if err != nil {
		return err
	}
	p := PersonPage{Booking: *b, Person: *g, Called: orNameless(m, b), Slabs: m.Picks,
		Name: Form{Prefix: "name-"}, Needs: Form{Prefix: "needs-"}, Picks: Form{Prefix: "picks-"},
		Open: m.State.Holds() || m.State == shop.Waiting}
	p.Layout = s.Layout(c, p.Called)
	p.Name.Values = url.Values{"name": {g.Name}, "email": {g.Email}, "age": {ageText(g.Age)}}
	if g.Wine {
		p.Name.Values.Set("wine", "yes")
	}
	p.States = []Choice{{Value: string(shop.NotTold), Label: "Not told yet"}, {Value: string(shop.NoNeeds), Label: "Nothing: eats everything"}, {Value: string(shop.HasNeeds), Label: "Cannot or will not eat the following"}}
	p.Needs.Values = url.Values{"state": {string(g.NeedsState)}}
	for _, a := range shop.Allergens {
		p.List = append(p.List, Choice{Value: a, Label: a})
		p.Severe = append(p.Severe, Choice{Value: a, Label: a})
	}
	for _, n := range g.Needs {
		p.Needs.Values.Add("need", n.Allergen)
		if n.Severe {
			p.Needs.Values.Add("severe", n.Allergen)
		}
		if n.Words != "" {
			p.Needs.Values.Set("needs_words", n.Words)
		}
	}
	if g.Remember {
		p.Needs.Values.Set("remember", "yes")
	}
	p.Jars = []Choice{{Value: "", Label: "still open"}, {Value: shop.OnTheDayPick, Label: "chooses at the table"}}
	for _, j := range g.Jars {
		ch := Choice{Value: j.Code, Label: j.Code + " " + j.Name, Off: j.Away}
		if j.Away {
			ch.Label += " (not on this table)"
		} else if j.Allergens != "" {
			ch.Label += " (carries " + j.Allergens + ")"
		}
		p.Jars = append(p.Jars, ch)
	}
	p.Picks.Values = url.Values{}
	for _, k := range m.Picks {
		code := k.Code
		if k.State == shop.OnTheDay {
			code = shop.OnTheDayPick
		}
		p.Picks.Values.Set(fmt.Sprintf("pick%d", k.Slot), code)
	}
	if change != nil {
		change(&p)
	}
	return s.Render(c, status, "person", p)
}

func orNameless(m *store.PersonView, b *store.BookingView) string {
	if m.Name != "" {
		return m.Name
	}
	return "A guest of " + b.PayerName
}

func ageText(age int) string {
	if age == 0 {
		return ""
	}
	return strconv.Itoa(age)
}

// personStep saves one of the page's forms; refused, the page comes back with it as typed.
func (s *Site) personStep(in func(*PersonPage) *Form, do func(context.Context, *store.Store, shop.Actor, *store.PersonView, *Form) (string, error)) echo.HandlerFunc {
	return func(c echo.Context) error {
		b, m, err := s.person(c)
		if err != nil {
			return err
		}
		f, err := formOf(c)
		if err != nil {
			return err
		}
		said, err := do(c.Request().Context(), s.Store, api.Actor(c), m, &f)
		status := http.StatusUnprocessableEntity
		if err != nil {
			if !refused(&f, err) {
				return err
			}
			status = api.Status(err)
		}
		if !f.OK() {
			return s.showPerson(c, status, func(p *PersonPage) {
				old := in(p)
				old.Values, old.Errors, old.Order = f.Values, f.Errors, f.Order
			})
		}
		s.say(c, said)
		return c.Redirect(http.StatusSeeOther, fmt.Sprintf("%s/people/%d", bookingPath(b), m.GuestID))
	}
}

func renamePerson(ctx context.Context, st *store.Store, by shop.Actor, m *store.PersonView, f *Form) (string, error) {
	v, age := f.Values, 0
	if typed := trimmed(v, "age"); typed != "" {
		var err error
		if age, err = strconv.Atoi(typed); err != nil || age < 1 {
			f.Fail("age", "Write the age on the day of the class in years, or leave it empty for a grown-up.")
			return "", nil
		}
	}
	return "Saved.", st.RenameGuest(ctx, by, m.GuestID, v.Get("name"), v.Get("email"), age, v.Get("wine") != "")
}

func savePersonNeeds(ctx context.Context, st *store.Store, by shop.Actor, m *store.PersonView, f *Form) (string, error) {
	v := f.Values
	a := shop.Answers{State: shop.NeedsState(v.Get("state")), Remember: v.Get("remember") != ""}
	words := trimmed(v, "needs_words")
	ticked := v["need"]
	for _, name := range v["severe"] { // severe says it too
		if !slices.Contains(ticked, name) {
			ticked = append(ticked, name)
		}
	}
	for _, name := range ticked {
		n := shop.NewNeed{Allergen: name, Severe: slices.Contains(v["severe"], name)}
		if name == "other" {
			n.Words = words
		}
		a.Needs = append(a.Needs, n)
	}
	// The words belong to "other"; without that tick they belong to the first answer.
	if len(a.Needs) > 0 && words != "" && !slices.Contains(ticked, "other") {
		a.Needs[0].Words = words
	}
	return "Their answer is noted.", st.SaveNeeds(ctx, by, m.GuestID, a)
}

func savePersonPicks(ctx context.Context, st *store.Store, by shop.Actor, m *store.PersonView, f *Form) (string, error) {
	for _, k := range m.Picks {
		code := k.Code
		if k.State == shop.OnTheDay {
			code = shop.OnTheDayPick
		}
		to := f.Values.Get(fmt.Sprintf("pick%d", k.Slot))
		if to == code {
			continue
		}
		if err := st.SavePick(ctx, by, m.GuestID, k.Slot, to); err != nil {
			return "", err
		}
	}
	return "The spice is noted.", nil
}
