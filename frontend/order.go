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
	"flitchbook/planner/inspection"
	"flitchbook/planner/unit"
)

var orderPages = map[string]Page{
	"owner_order":  {Shop, OrderPage{}},
	"staff_orders": {Shop, OrdersPage{}},
	"cut_list":     {Paper, CutListPage{}},
}

// OrderPage is one order from draft to settling: for the owner whole, for the staff the
// weighing-in and the cutting.
type OrderPage struct {
	Layout
	View                store.OrderView
	Owner               bool
	Base                string // address of the page's actions
	What                string
	Form                Form // what a one-press action was refused for
	Answer              Form
	Answers             []Choice
	Change              Form
	Off                 Form
	Kill                Form
	KillRows            []int
	Deliver             Form
	SideRows            []SideRow
	Kills               []Choice // how it was killed, asked at the door
	Ages                []Choice
	Pieces              []PieceRow
	Claim               Form
	Purposes            []Choice
	Weigh               Form
	Classes             string // codes of the order's classes
	Settle              Form
	FarmBill, PlantBill string // as typed in, to settle by
	Can                 OrderMay
	List                *store.CutList
}

// Over is what a belly leaves over its slabs, in words; "" when it is nothing a scale shows.
func (p OrderPage) Over(b store.BellyLine) string {
	if b.Cut.Slabs.Left < unit.Pound/100 {
		return ""
	}
	return b.Cut.Slabs.Left.LB()
}

// SideRow is an animal to weigh in, piece by piece.
type SideRow struct {
	Number int
	Tag    string
	Pieces []shop.Piece
}

// OrderMay says what can be done next.
type OrderMay struct{ Send, Answer, Slot, Kill, Deliver, CutList, Settle, CallOff, Change bool }

// OrdersPage lists what is coming in, for whoever weighs it in and cuts it.
type OrdersPage struct {
	Layout
	Orders []store.OrderRow
}

// CutListPage is the cut list on paper.
type CutListPage struct {
	Sheet
	List store.CutList
}

func (s *Site) orderRoutes(e *echo.Echo) {
	o, owner := e.Group("/owner/orders/:number"), api.Need(shop.Owner)
	o.GET("", func(c echo.Context) error { return s.order(c, http.StatusOK, nil) }, owner)
	o.GET("/slip", func(c echo.Context) error {
		n, err := number(c)
		if err != nil {
			return err
		}
		v, err := s.Store.OrderPage(c.Request().Context(), n)
		if err != nil {
			return err
		}
		return s.slip(c, v)
	}, owner)
	o.POST("/send", s.orderAction(pageForm, func(ctx context.Context, by shop.Actor, id shop.OrderID, _ *Form) (string, error) {
		_, err := s.Store.SendOrder(ctx, by, id)
		return "The farm is asked.", err
	}), owner)
	o.POST("/answer", s.orderAction(answerForm, func(ctx context.Context, by shop.Actor, id shop.OrderID, f *Form) (string, error) {
		_, err := s.Store.AnswerOrderFor(ctx, by, id, farmAnswer(*f))
		return "The farm's answer is written down.", err
	}), owner)
	o.POST("/slot", s.orderAction(pageForm, func(ctx context.Context, by shop.Actor, id shop.OrderID, _ *Form) (string, error) {
		return "The slots are held.", s.Store.HoldSlot(ctx, by, id)
	}), owner)
	o.POST("/change", s.orderAction(changeForm, s.changeOrder), owner)
	o.POST("/calloff", s.orderAction(offForm, func(ctx context.Context, by shop.Actor, id shop.OrderID, f *Form) (string, error) {
		return "The order is called off.", s.Store.CallOffOrder(ctx, by, id, f.Values.Get("reason"))
	}), owner)
	o.POST("/settle", s.orderAction(settleForm, s.settleOrder), owner)
	o.POST("/ways", s.orderAction(pageForm, s.takeWay), owner)
	e.GET("/staff/orders", func(c echo.Context) error {
		rows, err := s.Store.Orders(c.Request().Context(), s.Store.Today()-7)
		if err != nil {
			return err
		}
		return s.Render(c, http.StatusOK, "staff_orders", OrdersPage{s.Layout(c, "Deliveries"), rows})
	}, api.Need(shop.Staff))
	b, staff := e.Group("/staff/orders/:number"), api.Need(shop.Staff)
	b.GET("", func(c echo.Context) error { return s.order(c, http.StatusOK, nil) }, staff)
	b.POST("/kill", s.orderAction(killForm, s.recordKill), staff)
	b.POST("/deliver", s.orderAction(deliverForm, s.receiveDelivery), staff)
	b.POST("/cutlist", s.orderAction(pageForm, func(ctx context.Context, by shop.Actor, id shop.OrderID, _ *Form) (string, error) {
		_, err := s.Store.MakeCutList(ctx, by, id)
		return "The cut list is up to date.", err
	}), staff)
	b.POST("/claim", s.orderAction(claimForm, s.claimPiece), staff)
	b.POST("/rest", s.orderAction(claimForm, s.sellRest), staff)
	b.POST("/belly", s.orderAction(weighForm, s.weighBelly), staff)
	b.POST("/age", s.orderAction(claimForm, s.setAge), staff)
	b.GET("/cutlist", s.cutList, staff)
}

func number(c echo.Context) (int, error) {
	n, err := strconv.Atoi(c.Param("number"))
	if err != nil {
		return 0, shop.Missing("The order")
	}
	return n, nil
}

// The forms of the page; a refusal goes back into the one it came from.
func pageForm(p *OrderPage) *Form    { return &p.Form }
func answerForm(p *OrderPage) *Form  { return &p.Answer }
func changeForm(p *OrderPage) *Form  { return &p.Change }
func offForm(p *OrderPage) *Form     { return &p.Off }
func killForm(p *OrderPage) *Form    { return &p.Kill }
func deliverForm(p *OrderPage) *Form { return &p.Deliver }
func settleForm(p *OrderPage) *Form  { return &p.Settle }
func claimForm(p *OrderPage) *Form   { return &p.Claim }
func weighForm(p *OrderPage) *Form   { return &p.Weigh }

// orderAction does one thing to an order and shows its page again: fresh when it was
// done, with what was typed and why not when it was refused.
func (s *Site) orderAction(in func(*OrderPage) *Form, do func(context.Context, shop.Actor, shop.OrderID, *Form) (string, error)) echo.HandlerFunc {
	return func(c echo.Context) error {
		n, err := number(c)
		if err != nil {
			return err
		}
		f, err := formOf(c)
		if err != nil {
			return err
		}
		ctx := c.Request().Context()
		id, err := s.Store.OrderNumbered(ctx, n)
		if err != nil {
			return err
		}
		said, err := do(ctx, api.Actor(c), id, &f)
		status := http.StatusUnprocessableEntity
		if err != nil {
			if !refused(&f, err) {
				return err
			}
			status = api.Status(err)
		}
		if !f.OK() {
			return s.order(c, status, func(p *OrderPage) {
				old := in(p)
				old.Values, old.Errors, old.Order = f.Values, f.Errors, f.Order
			})
		}
		s.say(c, said)
		back := c.Request().URL.Path
		return c.Redirect(http.StatusSeeOther, back[:strings.LastIndex(back, "/")])
	}
}

func (s *Site) order(c echo.Context, status int, change func(*OrderPage)) error {
	n, err := number(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	v, err := s.Store.OrderPage(ctx, n)
	if err != nil {
		return err
	}
	o := v.Order
	p := OrderPage{Layout: s.Layout(c, o.Ref()), View: *v, Owner: api.Actor(c).May(), What: shop.AnimalsIn(o.Species, o.Animals), Answers: farmAnswers(o),
		Base:   fmt.Sprintf("/staff/orders/%d", n),
		Answer: Form{Prefix: "a-"}, Change: Form{Prefix: "c-"}, Off: Form{Prefix: "o-"}, Kill: Form{Prefix: "k-"}, Deliver: Form{Prefix: "d-"}, Settle: Form{Prefix: "s-"},
		Claim: Form{Prefix: "m-"}, Weigh: Form{Prefix: "w-"}}
	for _, next := range v.Next {
		switch next {
		case shop.Asked:
			p.Can.Send = true
		case shop.Promised:
			p.Can.Answer = true
		case shop.SlotHeld:
			p.Can.Slot = true
		case shop.Killed:
			p.Can.Kill = v.Kill <= s.Store.Today()
		case shop.Delivered:
			p.Can.Deliver = true
		case shop.Settled:
			p.Can.Settle, p.Can.CutList = true, true
		case shop.OrderOff:
			p.Can.CallOff, p.Can.Change = true, o.OrderBy > s.Store.Now()
		}
	}
	p.Can.Answer = p.Can.Answer || o.AskedAgain()
	p.Can.CutList = p.Can.CutList || o.State == shop.Settled
	for i := 1; i <= o.Promised; i++ {
		p.KillRows = append(p.KillRows, i)
	}
	for _, a := range v.Animals {
		if !a.Condemned {
			p.SideRows = append(p.SideRows, SideRow{a.Number, a.Tag, shop.Pieces(o.Species)})
		}
	}
	s.orderPieces(&p)
	if v.Slabs > 0 {
		if p.List, err = s.Store.CutListOf(ctx, n); err != nil {
			return err
		}
	}
	if p.Can.Settle && p.Owner {
		if p.FarmBill, p.PlantBill, err = s.settledBills(ctx, n); err != nil {
			return err
		}
	}
	if change != nil {
		change(&p)
	}
	return s.Render(c, status, "owner_order", p)
}

func (s *Site) changeOrder(ctx context.Context, by shop.Actor, id shop.OrderID, f *Form) (string, error) {
	c := shop.OrderChange{Reason: f.Values.Get("reason")}
	var err error
	if c.Animals, err = strconv.Atoi(strings.TrimSpace(f.Values.Get("animals"))); err != nil {
		f.Fail("animals", "Write a whole number of animals.")
	}
	if typed := strings.TrimSpace(f.Values.Get("deliver")); typed != "" {
		if c.DeliverOn, err = unit.ParseDay(typed); err != nil {
			f.Fail("deliver", "Write a date such as 2026-11-12.")
		}
	}
	if !f.OK() {
		return "", nil
	}
	o, err := s.Store.ReviseOrder(ctx, by, id, c)
	switch {
	case err != nil:
		return "", err
	case o.State == shop.Needed:
		return "The order is changed.", nil
	case o.Asks():
		return "The order is changed; the farm is asked with the new slip.", nil
	}
	return "The order is changed; the farm is told with the new slip.", nil
}

func (s *Site) recordKill(ctx context.Context, by shop.Actor, id shop.OrderID, f *Form) (string, error) {
	var animals []shop.KilledAnimal
	for i := 1; i <= 100; i++ {
		tag, hot := f.Values.Get(fmt.Sprintf("tag%d", i)), fmt.Sprintf("hot%d", i)
		condemned := f.Values.Get(fmt.Sprintf("condemned%d", i)) == "yes"
		typed := strings.TrimSpace(f.Values.Get(hot))
		if _, asked := f.Values[hot]; !asked {
			break
		}
		if tag == "" && typed == "" && !condemned {
			break // the rest of the form was left empty: fewer were killed
		}
		a := shop.KilledAnimal{Tag: tag, Condemned: condemned, Age: inspection.Cattle(f.Values.Get(fmt.Sprintf("age%d", i)))}
		if typed != "" || !condemned {
			a.Hot = pounds(f, hot)
		}
		animals = append(animals, a)
	}
	if !f.OK() {
		return "", nil
	}
	_, err := s.Store.RecordKill(ctx, by, id, animals)
	return "The kill is written down.", err
}

func (s *Site) receiveDelivery(ctx context.Context, by shop.Actor, id shop.OrderID, f *Form) (string, error) {
	var sides []shop.DeliveredSide
	for i := 1; i <= 100; i++ {
		for _, which := range []string{shop.LeftSide, shop.RightSide, shop.WholeCarcass, shop.LeftHind, shop.LeftFore, shop.RightHind, shop.RightFore} {
			field := fmt.Sprintf("side%d%s", i, which)
			if strings.TrimSpace(f.Values.Get(field)) != "" {
				sides = append(sides, shop.DeliveredSide{Animal: i, Which: which, Cold: pounds(f, field)})
			}
		}
	}
	if !f.OK() {
		return "", nil
	}
	if err := s.Store.MayComeIn(ctx, by, id, inspection.Kill(f.Values.Get("killed"))); err != nil {
		return "", err
	}
	r, err := s.Store.ReceiveDelivery(ctx, by, id, f.Values.Get("legend"), sides)
	if err != nil {
		return "", err
	}
	if r.Short > 0 {
		return fmt.Sprintf("Weighed in: %d slabs of %d wanted, short %d. The owner is told.", r.Slabs, r.Wanted, r.Short), nil
	}
	return "Weighed in.", nil
}

func (s *Site) settleOrder(ctx context.Context, by shop.Actor, id shop.OrderID, f *Form) (string, error) {
	var b store.Bills
	for name, m := range map[string]*unit.Money{"farm": &b.Farm, "plant": &b.Plant} {
		var err error
		if *m, err = unit.ParseMoney(f.Values.Get(name)); err != nil {
			f.Fail(name, err.Error())
		}
	}
	b.Note = f.Values.Get("note")
	if !f.OK() {
		return "", nil
	}
	return "The order is settled.", s.Store.SettleOrder(ctx, by, id, b)
}

// takeWay does what one press on a way out asks.
func (s *Site) takeWay(ctx context.Context, by shop.Actor, id shop.OrderID, f *Form) (string, error) {
	v := f.Values
	belly, _ := strconv.ParseInt(v.Get("belly"), 10, 64)
	class, _ := strconv.ParseInt(v.Get("class"), 10, 64)
	n, _ := strconv.Atoi(v.Get("n"))
	switch v.Get("act") {
	case "demo":
		return "No demo slabs: the class sheets say so.", s.Store.DropDemos(ctx, by, id)
	case "skin":
		return "The skin stays on that belly.", s.Store.SetSkin(ctx, by, shop.BellyID(belly), true)
	case "skinless":
		return "The skin comes off that belly.", s.Store.SetSkin(ctx, by, shop.BellyID(belly), false)
	case "thaw":
		return "That belly is out of the freezer.", s.Store.ThawBelly(ctx, by, shop.BellyID(belly), shop.ClassID(class))
	case "unsold":
		return "Those seats are off sale.", s.Store.TakeUnsold(ctx, by, shop.ClassID(class), n)
	}
	return "", shop.Bad("way", "Choose one of the ways out.")
}

func (s *Site) cutList(c echo.Context) error {
	n, err := number(c)
	if err != nil {
		return err
	}
	l, err := s.Store.CutListOf(c.Request().Context(), n)
	if err != nil {
		return err
	}
	p := CutListPage{Sheet: Sheet{Layout: s.Layout(c, "Cut list, "+l.Order.Ref()), Version: "version " + strconv.Itoa(l.Order.Revision)}, List: *l}
	p.Large = c.QueryParam("large") != ""
	return s.Render(c, http.StatusOK, "cut_list", p)
}
