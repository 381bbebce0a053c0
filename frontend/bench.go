package frontend

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"strings"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

var benchPages = map[string]Page{
	"bench":      {Shop, BenchPage{}},
	"bench_away": {Shop, BenchPage{}},
	"slab":       {Shop, SlabPage{}},
}

// BenchPage is one scan box, then the scanned slab's next step.
type BenchPage struct {
	Layout
	Scan   Form // the box
	Form   Form // the step
	Result string
	Text   string
	Slab   *store.SlabView
	Scales []Choice
	Scale  string // the fine scale checked today, chosen beforehand
	Jars   []Choice
	Skin   []Choice
	Liquid []Choice // of a bag that leaks
	Check  bool     // the fine scale is not checked yet today
	Owner  bool
	Today  unit.Day
	Early  bool   // the slab may not leave its bag yet
	Away   bool   // the page a device keeps for when there is no signal
	With   string // the other slab of a swap: both bags get a new label
}

// For is the form of one step; what was typed and refused stands in its own form alone.
func (p BenchPage) For(step string) Form {
	if p.Form.Prefix == step+"-" {
		return p.Form
	}
	return Form{Prefix: step + "-", Once: p.Form.Once}
}

// SlabPage is one slab's whole way, back and forward.
type SlabPage struct {
	Layout
	Trace store.Trace
	Today unit.Day
}

func (s *Site) benchRoutes(e *echo.Echo) {
	g := e.Group("/staff/bench", api.Need(shop.Staff))
	g.GET("", s.bench)
	g.GET("/away", s.benchAway)
	e.GET("/staff/bench-worker.js", s.benchWorker, api.Need(shop.Staff))
	g.POST("", s.scan)
	g.POST("/scale", s.checkScale)
	g.POST("/:step", s.benchStep)
	e.GET("/staff/slabs/:tag", s.slab, api.Need(shop.Staff))
}

func (s *Site) slab(c echo.Context) error {
	tr, err := s.Store.SlabTrace(c.Request().Context(), c.Param("tag"))
	if err != nil {
		return err
	}
	return s.Render(c, http.StatusOK, "slab", SlabPage{Layout: s.Layout(c, "Slab "+tr.Slab.Tag), Trace: *tr, Today: s.Store.Today()})
}

// scan leads to the scanned slab; a tag nobody knows stays in the box.
func (s *Site) scan(c echo.Context) error {
	tag := store.ScannedTag(c.FormValue("tag"))
	if _, err := s.Store.Slab(c.Request().Context(), tag); err != nil {
		f := Form{Values: url.Values{"tag": {tag}}}
		if e, ok := shop.AsError(err); ok {
			f.Fail("tag", e.Text)
			return s.showBench(c, api.Status(err), BenchPage{Scan: f, Result: "wrong", Text: e.Text}, "")
		}
		return err
	}
	return c.Redirect(http.StatusSeeOther, "/staff/bench?tag="+url.QueryEscape(tag))
}

// benchAway is the page a device keeps for when there is no signal.
func (s *Site) benchAway(c echo.Context) error {
	p := BenchPage{Layout: s.Layout(c, "Bench"), Away: true, Slab: &store.SlabView{Ticket: &shop.CureTicket{}}, Skin: skinChoices}
	scales, err := s.Store.Scales(c.Request().Context())
	if err != nil {
		return err
	}
	for _, sc := range scales {
		if sc.Fine {
			p.Scales = append(p.Scales, Choice{Value: sc.Name, Label: sc.Name})
		}
	}
	if len(p.Scales) > 0 {
		p.Scale = p.Scales[0].Value
	}
	return s.Render(c, http.StatusOK, "bench_away", p)
}

// benchWorker is the script that answers for the bench while there is no signal. It
// stands beside the bench's address, since a worker answers for nothing above its own
// folder, and begins with what it keeps: another release is another script.
func (s *Site) benchWorker(c echo.Context) error {
	var files []string
	for _, name := range []string{"app.css", "shop.css", "mark.svg", "js/answer.js", "js/beep.js", "js/bench.js", "js/bench-rules.js", "js/bench-store.js"} {
		u, err := s.static.url(name)
		if err != nil {
			return err
		}
		files = append(files, u)
	}
	list, err := json.Marshal(files)
	if err != nil {
		return err
	}
	h := c.Response().Header()
	h.Set(echo.HeaderCacheControl, "no-cache")
	body := fmt.Sprintf("const release = %q, files = %s;\n%s", s.static.hash, list, s.static.files["js/bench-worker.js"].plain)
	return c.Blob(http.StatusOK, staticKinds[".js"], []byte(body))
}

var skinChoices = []Choice{{Value: "off", Label: "Skinless"}, {Value: "on", Label: "Skin on"}}

func (s *Site) bench(c echo.Context) error {
	p, tag := BenchPage{With: strings.ToUpper(c.QueryParam("with"))}, c.QueryParam("tag")
	if c.QueryParam("done") != "" {
		p.Result = "right"
	}
	return s.showBench(c, http.StatusOK, p, tag)
}

func (s *Site) showBench(c echo.Context, status int, p BenchPage, tag string) error {
	p.Layout, p.Today = s.Layout(c, "Bench"), s.Store.Today()
	p.Owner = p.Actor.Role == Owner
	p.Form.Once = s.once()
	ctx := c.Request().Context()
	scales, err := s.Store.Scales(ctx)
	if err != nil {
		return err
	}
	p.Check = true
	for _, sc := range scales {
		ch := Choice{Value: sc.Name, Label: sc.Name, Hint: "not checked today"}
		if sc.Checked {
			ch.Hint = "checked today: " + sc.Shown.G(2)
		}
		if sc.Fine {
			p.Scales = append(p.Scales, ch)
			p.Check = p.Check && !sc.Checked
			if sc.Checked && p.Scale == "" {
				p.Scale = sc.Name
			}
		}
	}
	if tag != "" {
		v, err := s.Store.Slab(ctx, tag)
		if e, ok := shop.AsError(err); ok && status == http.StatusOK {
			p.Scan.Values = url.Values{"tag": {tag}}
			p.Scan.Fail("tag", e.Text)
			p.Result, p.Text, status = "wrong", e.Text, api.Status(err)
		} else if err != nil {
			return err
		} else {
			p.Slab = v
			p.Early = v.State == shop.InCure && v.UnbagFrom > p.Today
			for _, j := range v.Jars {
				ch := Choice{Value: j.Code, Label: j.Code + " " + j.Name}
				if j.Allergens != "" {
					ch.Hint = "carries " + j.Allergens
				}
				p.Jars = append(p.Jars, ch)
			}
			p.Liquid = []Choice{{Value: "all", Label: "all of it is there: bagged again with it"}, {Value: "lost", Label: "some is lost: rinsed, to be begun again"}, {Value: "late", Label: "sealed more than a day ago: hold it"}}
			p.Skin = skinChoices
			if p.Result == "right" && p.Text == "" {
				p.Text = nowWords(v)
			}
		}
	}
	return s.Render(c, status, "bench", p)
}

// nowWords says in one line how a slab stands after a step.
func nowWords(v *store.SlabView) string {
	text := fmt.Sprintf("%s is %s", v.Tag, v.State)
	if v.Place != "" {
		text += ", place " + v.Place
	}
	switch {
	case v.State == shop.Kitted && v.Weighed:
		text += ", cure weighed: seal it"
	case v.State == shop.InCure:
		text += ", may leave its bag from " + v.UnbagFrom.Show()
	case v.State == shop.Packed:
		text += ", use or freeze by " + v.UseBy.Show()
	}
	return text + "."
}

// benchSteps are the steps of the bench by their word in the address.
var benchSteps = map[string]func(context.Context, *store.Store, shop.Actor, store.Scan, *Form) error{
	"cut": func(ctx context.Context, st *store.Store, by shop.Actor, sc store.Scan, f *Form) error {
		c, ok := cuttingOf(f)
		if !ok {
			return nil
		}
		return st.CutSlab(ctx, by, sc, c)
	},
	"correct": func(ctx context.Context, st *store.Store, by shop.Actor, sc store.Scan, f *Form) error {
		c, ok := cuttingOf(f)
		if !ok {
			return nil
		}
		return st.CorrectSlab(ctx, by, sc, c)
	},
	"seat": func(ctx context.Context, st *store.Store, by shop.Actor, sc store.Scan, f *Form) error {
		w := inPounds(f, "weight")
		if !f.OK() {
			return nil
		}
		return st.SeatWeight(ctx, by, sc, w)
	},
	"pick": func(ctx context.Context, st *store.Store, by shop.Actor, sc store.Scan, f *Form) error {
		return st.PickAtTable(ctx, by, sc, f.Values.Get("jar"))
	},
	"kit": func(ctx context.Context, st *store.Store, by shop.Actor, sc store.Scan, _ *Form) error {
		return st.Kit(ctx, by, sc)
	},
	"weigh": func(ctx context.Context, st *store.Store, by shop.Actor, sc store.Scan, f *Form) error {
		v := f.Values
		return st.WeighOut(ctx, by, sc, store.Weighed{Salt: v.Get("salt"), Sugar: v.Get("sugar"), Cure: v.Get("cure"), Spice: v.Get("spice"), Scale: v.Get("scale"), Cup: v.Get("cup")})
	},
	"swap": func(ctx context.Context, st *store.Store, by shop.Actor, sc store.Scan, f *Form) error {
		return st.SwapSlabs(ctx, by, sc, store.Scan{Tag: f.Values.Get("other"), Once: sc.Once})
	},
	"seal": func(ctx context.Context, st *store.Store, by shop.Actor, sc store.Scan, f *Form) error {
		return st.Seal(ctx, by, sc, f.Values.Get("place"))
	},
	"move": func(ctx context.Context, st *store.Store, by shop.Actor, sc store.Scan, f *Form) error {
		return st.MoveInCure(ctx, by, sc, f.Values.Get("place"))
	},
	"leaker": func(ctx context.Context, st *store.Store, by shop.Actor, sc store.Scan, f *Form) error {
		leak := store.Leak{AllLiquid: f.Values.Get("liquid") == "all"}
		switch f.Values.Get("liquid") {
		case "all":
		case "late":
			leak.Late = true
		case "lost":
			if leak.Weight = inPounds(f, "weight"); !f.OK() {
				return nil
			}
		default:
			f.Fail("liquid", "Say whether all its liquid is still there.")
			return nil
		}
		_, err := st.Leaker(ctx, by, sc, leak)
		return err
	},
	"rinse": func(ctx context.Context, st *store.Store, by shop.Actor, sc store.Scan, f *Form) error {
		var w unit.Weight
		if strings.TrimSpace(f.Values.Get("drained")) != "" {
			if w = inPounds(f, "drained"); !f.OK() {
				return nil
			}
		}
		return st.Rinse(ctx, by, sc, w)
	},
	"hang": func(ctx context.Context, st *store.Store, by shop.Actor, sc store.Scan, f *Form) error {
		return st.Hang(ctx, by, sc, f.Values.Get("hook"))
	},
	"out": func(ctx context.Context, st *store.Store, by shop.Actor, sc store.Scan, f *Form) error {
		text := strings.TrimSpace(f.Values.Get("temp"))
		if text != "" && strings.IndexFunc(text, func(r rune) bool { return (r < '0' || r > '9') && r != '.' }) < 0 {
			text += " F" // the box is labelled °F
		}
		core, err := unit.ParseTemp(text)
		if err != nil {
			f.Fail("temp", err.Error())
			return nil
		}
		return st.OutOfSmoke(ctx, by, sc, core)
	},
	"pack": func(ctx context.Context, st *store.Store, by shop.Actor, sc store.Scan, f *Form) error {
		w := inPounds(f, "weight")
		if !f.OK() {
			return nil
		}
		return st.Pack(ctx, by, sc, w)
	},
	"shelve": func(ctx context.Context, st *store.Store, by shop.Actor, sc store.Scan, f *Form) error {
		return st.Shelve(ctx, by, sc, f.Values.Get("place"))
	},
	"freeze": func(ctx context.Context, st *store.Store, by shop.Actor, sc store.Scan, f *Form) error {
		return st.ToFreezer(ctx, by, sc, f.Values.Get("place"))
	},
	"giveup": func(ctx context.Context, st *store.Store, by shop.Actor, sc store.Scan, _ *Form) error {
		return st.GiveUp(ctx, by, sc)
	},
}

func inPounds(f *Form, field string) unit.Weight {
	w, err := unit.ParseWeightIn(f.Values.Get(field), unit.Pound)
	if err != nil {
		f.Fail(field, err.Error())
	}
	return w
}

func cuttingOf(f *Form) (store.Cutting, bool) {
	c := store.Cutting{Weight: inPounds(f, "weight"), GuestYes: f.Values.Get("guest_yes") != ""}
	if text := strings.TrimSpace(f.Values.Get("thickness")); text != "" {
		var err error
		if c.Thickness, err = unit.ParseLengthIn(text, unit.Inch); err != nil {
			f.Fail("thickness", err.Error())
		}
	}
	switch f.Values.Get("skin") {
	case "on":
		c.SkinOn = true
	case "off":
	default:
		f.Fail("skin", "Say whether the skin is on: the cure is reckoned on the meat under it.")
	}
	return c, f.OK()
}

func (s *Site) benchStep(c echo.Context) error {
	do, ok := benchSteps[c.Param("step")]
	if !ok {
		return echo.NewHTTPError(http.StatusNotFound)
	}
	f, err := formOf(c)
	if err != nil {
		return err
	}
	tag := strings.ToUpper(strings.TrimSpace(f.Values.Get("tag")))
	f.Prefix = c.Param("step") + "-"
	sc := store.Scan{Tag: tag, Once: f.Values.Get("once"), Reason: f.Values.Get("reason")}
	err = do(c.Request().Context(), s.Store, api.Actor(c), sc, &f)
	if err == nil && f.OK() {
		to := "/staff/bench?tag=" + url.QueryEscape(tag) + "&done=1"
		if c.Param("step") == "swap" {
			to += "&with=" + url.QueryEscape(strings.TrimSpace(f.Values.Get("other")))
		}
		return c.Redirect(http.StatusSeeOther, to)
	}
	status, text := http.StatusUnprocessableEntity, "Something typed needs correcting. Nothing was changed."
	if err != nil {
		e, ok := shop.AsError(err)
		if !ok || !refused(&f, err) {
			return err
		}
		status, text = api.Status(err), e.Text
	}
	return s.showBench(c, status, BenchPage{Form: f, Result: "wrong", Text: text}, tag)
}

func (s *Site) checkScale(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	f.Prefix = "scale-"
	tag := f.Values.Get("tag")
	shown, perr := unit.ParseWeightIn(f.Values.Get("shown"), unit.Gram)
	if perr != nil {
		f.Fail("shown", perr.Error())
		return s.showBench(c, http.StatusUnprocessableEntity, BenchPage{Form: f, Result: "wrong", Text: perr.Error()}, tag)
	}
	if err := s.Store.CheckScale(c.Request().Context(), api.Actor(c), f.Values.Get("scale"), shown); err != nil {
		e, ok := shop.AsError(err)
		if !ok || !refused(&f, err) {
			return err
		}
		return s.showBench(c, api.Status(err), BenchPage{Form: f, Result: "wrong", Text: e.Text}, tag)
	}
	s.say(c, f.Values.Get("scale")+" shows "+shown.G(1)+": it may weigh curing salt today.")
	to := "/staff/bench"
	if tag != "" {
		to += "?tag=" + url.QueryEscape(tag)
	}
	return c.Redirect(http.StatusSeeOther, to)
}
