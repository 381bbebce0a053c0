package frontend

import (
	"context"
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/invoice"
	"flitchbook/planner/unit"
)

var invoicePages = map[string]Page{"owner_invoices": {Shop, InvoicesPage{}}}

// InvoicesPage is asked, hung and invoiced side by side, with the forms to type bills in.
type InvoicesPage struct {
	Layout
	Three   store.ThreeWay
	Asked   string // "4 pigs"
	Lines   []threeLine
	Bills   []billShown
	Farm    Form
	Plant   Form
	Bases   []Choice
	CanType bool
}

// threeLine is one row of the three-way table; what is not known is a dash.
type threeLine struct{ What, Asked, Hung, Invoiced string }

type billShown struct {
	Who      string
	Invoice  shop.Invoice
	Result   invoice.Result
	OK       bool
	Pounds   string // billed less hung, signed; "" when it is none
	Dollars  string // billed less due, signed
	Findings []invoice.Finding
}

func (s *Site) invoiceRoutes(e *echo.Echo) {
	g, owner := e.Group("/owner/orders/:number/invoices"), api.Need(shop.Owner)
	g.GET("", func(c echo.Context) error { return s.invoices(c, http.StatusOK, "", Form{}) }, owner)
	g.POST("/farm", s.typeInvoice(shop.FarmBills), owner)
	g.POST("/plant", s.typeInvoice(shop.PlantBills), owner)
}

func (s *Site) invoices(c echo.Context, status int, from shop.Biller, f Form) error {
	n, err := number(c)
	if err != nil {
		return err
	}
	three, err := s.Store.ThreeWay(c.Request().Context(), n)
	if err != nil {
		return err
	}
	p := InvoicesPage{Layout: s.Layout(c, three.Order.Ref()+": bills"), Three: *three, Asked: shop.AnimalsIn(three.Order.Species, three.Order.Animals),
		Farm: Form{Prefix: "f-"}, Plant: Form{Prefix: "p-"}, CanType: three.Slip.Killed > 0,
		Bases: []Choice{{Value: string(invoice.Hot), Label: "hot weight"}, {Value: string(invoice.Cold), Label: "cold weight"}}}
	for _, b := range three.Bills {
		r := b.Result
		shown := billShown{Who: three.Farm.Name, Invoice: b.Invoice, Result: r, OK: r.OK(), Dollars: signedMoney(r.Dollars), Findings: r.Findings}
		if b.Party == shop.PlantBills {
			shown.Who = three.Plant.Name
		} else {
			shown.Pounds = signedPounds(r.Pounds)
		}
		p.Bills = append(p.Bills, shown)
	}
	p.Lines = threeLines(three)
	switch from {
	case shop.FarmBills:
		p.Farm.Values, p.Farm.Errors, p.Farm.Order = f.Values, f.Errors, f.Order
	case shop.PlantBills:
		p.Plant.Values, p.Plant.Errors, p.Plant.Order = f.Values, f.Errors, f.Order
	}
	return s.Render(c, status, "owner_invoices", p)
}

func signedMoney(m unit.Money) string {
	if m > 0 {
		return "+" + m.String()
	}
	return m.String()
}

func signedPounds(w unit.Weight) string {
	if w > 0 {
		return "+" + w.LB()
	}
	return w.LB()
}

func threeLines(t *store.ThreeWay) []threeLine {
	const none = "–"
	s := t.Slip
	farm, plant := &shop.Invoice{}, &shop.Invoice{}
	for i := range t.Bills {
		if t.Bills[i].Party == shop.FarmBills {
			farm = &t.Bills[i].Invoice
		} else {
			plant = &t.Bills[i].Invoice
		}
	}
	weight := func(w unit.Weight) string {
		if w == 0 {
			return none
		}
		return w.LB()
	}
	billed := func(i *shop.Invoice, text string) string {
		if i.ID == 0 {
			return none
		}
		return text
	}
	hung := fmt.Sprintf("%d killed, %d condemned, %d delivered", s.Killed, s.Condemned, s.Delivered)
	if s.Killed == 0 {
		hung = none
	}
	hot, cold := none, none
	if farm.Basis == invoice.Hot {
		hot = farm.Weight.LB()
	} else if farm.Basis == invoice.Cold {
		cold = farm.Weight.LB()
	}
	animals := billed(farm, fmt.Sprintf("farm %d", farm.Animals))
	if plant.ID != 0 {
		animals = strings.TrimPrefix(animals+", ", none+", ") + fmt.Sprintf("plant %d", plant.Animals)
	}
	return []threeLine{
		{"animals", fmt.Sprintf("%d asked, %d promised", s.Asked, s.Promised), hung, animals},
		{"hot weight", weight(s.Usual * unit.Weight(s.Promised)), weight(s.HungHot), hot},
		{"cold weight", none, weight(s.HungCold), cold},
		{"a pound, hot", s.Price.String(), none, billed(farm, farm.PriceCents.String())},
		{"meat", none, s.Price.PerPound(s.HungHot).String(), billed(farm, farm.MeatCents.String())},
		{"haul", fmt.Sprintf("%s an animal", s.Haul), (s.Haul * unit.Money(s.Delivered)).String(), billed(farm, farm.HaulCents.String())},
		{"kill fees", fmt.Sprintf("%s an animal", s.KillFee), s.DuePlant().String(), billed(plant, plant.MeatCents.String())},
		{"anything else", none, none, billed(farm, farm.OtherCents.String()) + " / " + billed(plant, plant.OtherCents.String())},
		{"to the farm", none, s.DueFarm().String(), billed(farm, farm.TotalCents.String())},
		{"to the plant", none, s.DuePlant().String(), billed(plant, plant.TotalCents.String())},
	}
}

// cash reads an amount; an empty box is nothing.
func cash(f *Form, field string) unit.Money {
	typed := strings.TrimSpace(f.Values.Get(field))
	if typed == "" {
		return 0
	}
	m, err := unit.ParseMoney(typed)
	if err != nil {
		f.Fail(field, err.Error())
	}
	return m
}

func (s *Site) typeInvoice(who shop.Biller) echo.HandlerFunc {
	return func(c echo.Context) error {
		n, err := number(c)
		if err != nil {
			return err
		}
		f, err := formOf(c)
		if err != nil {
			return err
		}
		i := readInvoice(&f, who)
		if !f.OK() {
			return s.invoices(c, http.StatusUnprocessableEntity, who, f)
		}
		ctx := c.Request().Context()
		id, err := s.Store.OrderNumbered(ctx, n)
		if err == nil {
			err = s.Store.TypeInvoice(ctx, api.Actor(c), id, i)
		}
		if err != nil {
			if refused(&f, err) {
				return s.invoices(c, api.Status(err), who, f)
			}
			return err
		}
		s.say(c, "The "+string(who)+"'s bill is written down.")
		return c.Redirect(http.StatusSeeOther, fmt.Sprintf("/owner/orders/%d/invoices", n))
	}
}

func readInvoice(f *Form, who shop.Biller) shop.Invoice {
	v := f.Values
	i := shop.Invoice{Party: who, Number: v.Get("number"), OtherWords: v.Get("words"),
		MeatCents: cash(f, "meat"), OtherCents: cash(f, "other"), TotalCents: cash(f, "total")}
	var err error
	if typed := strings.TrimSpace(v.Get("day")); typed != "" {
		if i.Day, err = unit.ParseDay(typed); err != nil {
			f.Fail("day", "Write a date such as 2026-11-12.")
		}
	}
	if i.Animals, err = strconv.Atoi(strings.TrimSpace(v.Get("animals"))); err != nil {
		f.Fail("animals", "Write a whole number of animals.")
	}
	if who == shop.FarmBills {
		i.Basis = invoice.Basis(v.Get("basis"))
		i.Weight, i.PriceCents, i.HaulCents = pounds(f, "weight"), cash(f, "price"), cash(f, "haul")
	}
	return i
}

// settledBills is what the bills say, to be paid unless the owner decides otherwise.
func (s *Site) settledBills(ctx context.Context, number int) (farm, plant string, err error) {
	three, err := s.Store.ThreeWay(ctx, number)
	if err != nil {
		return "", "", err
	}
	for _, b := range three.Bills {
		if b.Party == shop.FarmBills {
			farm = b.TotalCents.String()
		} else {
			plant = b.TotalCents.String()
		}
	}
	return farm, plant, nil
}
