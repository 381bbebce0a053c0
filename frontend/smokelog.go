package frontend

import (
	"context"
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
	"flitchbook/planner/unit"
)

var smokeLogPages = map[string]Page{
	"smoke_log":  {Shop, SmokeLogPage{}},
	"smoke_line": {Shop, SmokeLinePage{}},
}

// SmokeLogPage is what is written down of a load, what it amounts to, and the question a
// chill that did not pass leaves.
type SmokeLogPage struct {
	Layout
	Log    store.LoadLog
	Sheet  store.SmokeSheet
	Curve  Curve
	Smoke  Form // a line of the smoke
	Chill  Form // a line of the chill
	Paste  Form
	Wood   Form
	Answer Form
	Phases []Choice
	Tags   []Choice
}

// SmokeLinePage corrects one line.
type SmokeLinePage struct {
	Layout
	Day  unit.Day
	Line store.LogLine
	Tags []Choice
	Form Form
}

func (s *Site) smokeLogRoutes(e *echo.Echo) {
	staff := api.Need(shop.Staff)
	e.GET("/staff/smoke/:day/log", func(c echo.Context) error { return s.showLog(c, http.StatusOK, SmokeLogPage{}) }, staff)
	e.POST("/staff/smoke/:day/log", s.addLine, staff)
	e.POST("/staff/smoke/:day/paste", s.pasteLines, staff)
	e.GET("/staff/smoke/:day/lines/:id", func(c echo.Context) error { return s.showLine(c, http.StatusOK, Form{}) }, staff)
	e.POST("/staff/smoke/:day/lines/:id", s.correctLine, staff)
	e.POST("/staff/smoke/:day/wood", s.setWood, staff)
	e.POST("/staff/smoke/:day/answer", s.answerChill, staff)
}

func (s *Site) showLog(c echo.Context, status int, p SmokeLogPage) error {
	ctx := c.Request().Context()
	d, err := dayParam(c)
	if err != nil {
		return err
	}
	log, err := s.Store.LoadLog(ctx, d)
	if err != nil {
		return err
	}
	sh, err := s.Store.SmokeSheet(ctx, d)
	if err != nil {
		return err
	}
	p.Layout, p.Log, p.Sheet = s.Layout(c, "Smoke log, "+d.Show()), *log, *sh
	for f, prefix := range map[*Form]string{&p.Smoke: "smoke-", &p.Chill: "chill-", &p.Paste: "paste-", &p.Wood: "wood-", &p.Answer: "answer-"} {
		f.Prefix = prefix
	}
	p.Phases = []Choice{{Value: shop.SmokePhase, Label: "in the smoke"}, {Value: shop.ChillPhase, Label: "in the chill"}}
	p.Tags = tagsOf(sh)
	p.Curve = curve(log, s.Store.Loc)
	return s.Render(c, status, "smoke_log", p)
}

func tagsOf(sh *store.SmokeSheet) []Choice {
	out := []Choice{{Value: "", Label: "not said"}}
	for _, l := range sh.Lines {
		out = append(out, Choice{Value: l.Tag, Label: l.Tag + " on " + l.Hook})
	}
	return out
}

// logForm runs one form of the log page. use puts what was typed back into its place.
func (s *Site) logForm(c echo.Context, use func(*SmokeLogPage, Form), do func(context.Context, unit.Day, Form) (string, error)) error {
	d, err := dayParam(c)
	if err != nil {
		return err
	}
	f, err := formOf(c)
	if err != nil {
		return err
	}
	said, err := do(c.Request().Context(), d, f)
	if err != nil {
		if !refused(&f, err) {
			return err
		}
		var p SmokeLogPage
		use(&p, f)
		return s.showLog(c, api.Status(err), p)
	}
	s.say(c, said)
	return c.Redirect(http.StatusSeeOther, "/staff/smoke/"+d.String()+"/log")
}

func typed(f Form) store.TypedLine {
	return store.TypedLine{Time: trimmed(f.Values, "time"), House: trimmed(f.Values, "house"), Core: trimmed(f.Values, "core"), Tag: trimmed(f.Values, "tag")}
}

func (s *Site) addLine(c echo.Context) error {
	return s.logForm(c, func(p *SmokeLogPage, f Form) {
		if f.Values.Get("phase") == shop.ChillPhase {
			p.Chill = f
		} else {
			p.Smoke = f
		}
	}, func(ctx context.Context, d unit.Day, f Form) (string, error) {
		phase := f.Values.Get("phase")
		in, err := s.Store.ReadLine(ctx, d, phase, typed(f))
		if err != nil {
			return "", err
		}
		return "Written down.", s.Store.AddLines(ctx, api.Actor(c), d, phase, []store.LineIn{in})
	})
}

func (s *Site) pasteLines(c echo.Context) error {
	return s.logForm(c, func(p *SmokeLogPage, f Form) { p.Paste = f }, func(ctx context.Context, d unit.Day, f Form) (string, error) {
		phase := f.Values.Get("phase")
		lines, err := s.Store.ReadLines(ctx, d, phase, f.Values.Get("text"))
		if err == nil {
			err = s.Store.AddLines(ctx, api.Actor(c), d, phase, lines)
		}
		if e, ok := shop.AsError(err); ok && e.Fields["text"] == "" && len(e.Fields) > 0 {
			// The fields of a line are all one box here.
			out := *e
			out.Fields = map[string]string{"text": firstField(e.Fields)}
			err = &out
		}
		return plural(len(lines), "line is written down.", "lines are written down."), err
	})
}

func firstField(fields map[string]string) string {
	for _, name := range []string{"time", "house", "core", "tag"} {
		if fields[name] != "" {
			return fields[name]
		}
	}
	for _, text := range fields {
		return text
	}
	return ""
}

func (s *Site) setWood(c echo.Context) error {
	return s.logForm(c, func(p *SmokeLogPage, f Form) { p.Wood = f }, func(ctx context.Context, d unit.Day, f Form) (string, error) {
		return "The wood is noted.", s.Store.SetWood(ctx, api.Actor(c), d, f.Values.Get("wood"))
	})
}

func (s *Site) answerChill(c echo.Context) error {
	return s.logForm(c, func(p *SmokeLogPage, f Form) { p.Answer = f }, func(ctx context.Context, d unit.Day, f Form) (string, error) {
		return "Your word stands in the record; the load may be packed.", s.Store.AnswerChill(ctx, api.Actor(c), d, f.Values.Get("reason"))
	})
}

func (s *Site) showLine(c echo.Context, status int, f Form) error {
	ctx := c.Request().Context()
	d, err := dayParam(c)
	if err != nil {
		return err
	}
	log, err := s.Store.LoadLog(ctx, d)
	if err != nil {
		return err
	}
	i := slices.IndexFunc(log.Lines, func(l store.LogLine) bool { return strconv.FormatInt(int64(l.ID), 10) == c.Param("id") && !l.Struck })
	if i < 0 {
		return shop.Missing("That line")
	}
	sh, err := s.Store.SmokeSheet(ctx, d)
	if err != nil {
		return err
	}
	l := log.Lines[i]
	if f.Values == nil {
		f.Values = url.Values{"time": {l.At.Clock(s.Store.Loc)}, "house": {bareTemp(l.House)}, "core": {bareTemp(l.Core)}, "tag": {l.Tag}}
	}
	return s.Render(c, status, "smoke_line", SmokeLinePage{Layout: s.Layout(c, "Correct a line"), Day: d, Line: l, Tags: tagsOf(sh), Form: f})
}

func (s *Site) correctLine(c echo.Context) error {
	ctx := c.Request().Context()
	d, err := dayParam(c)
	if err != nil {
		return err
	}
	id, err := strconv.ParseInt(c.Param("id"), 10, 64)
	if err != nil {
		return echo.NewHTTPError(http.StatusNotFound)
	}
	f, err := formOf(c)
	if err != nil {
		return err
	}
	var in store.LineIn
	if f.Values.Get("strike") == "" {
		phase := shop.SmokePhase
		if f.Values.Get("phase") != shop.SmokePhase {
			phase = shop.ChillPhase
		}
		in, err = s.Store.ReadLine(ctx, d, phase, typed(f))
		if err == nil && in.House == nil && in.Core == nil {
			var w shop.Wrong
			w.Add("core", "Write the temperature as it should be, or tick that the line is only struck out.")
			err = w.Err()
		}
	}
	if err == nil {
		err = s.Store.CorrectLine(ctx, api.Actor(c), d, shop.LineID(id), in, f.Values.Get("reason"))
	}
	if err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.showLine(c, api.Status(err), f)
	}
	s.say(c, "Corrected; the old line stays to be read, struck out.")
	return c.Redirect(http.StatusSeeOther, "/staff/smoke/"+d.String()+"/log")
}

// bareTemp is a temperature as a box labelled °F takes it.
func bareTemp(t *unit.Temp) string {
	if t == nil {
		return ""
	}
	return strings.TrimSuffix(t.Show(), " °F")
}

// Warm is a temperature that may not have been read.
func (p SmokeLogPage) Warm(t *unit.Temp) string {
	if t == nil {
		return "–"
	}
	return t.Show()
}

// Kills is what the probes' logs amount to, in words; for information only.
func (p SmokeLogPage) Kills() []string {
	var out []string
	for _, k := range p.Log.Probes {
		who := k.Tag
		if who == "" {
			who = "a probe whose slab was not said"
		}
		text := fmt.Sprintf("%s: as much as %.2f minutes at 150 °F, %.1f logs of Salmonella", who, k.F150, k.Logs)
		if k.Met {
			text += " (6.5 or more)"
		} else {
			text += " (under 6.5)"
		}
		for _, n := range k.Notes {
			if !strings.HasPrefix(n, "for information") {
				text += "; " + n
			}
		}
		out = append(out, text)
	}
	return out
}

// Bands is the time in each band of the cooling rule.
func (p SmokeLogPage) Bands() []string {
	var out []string
	for _, b := range p.Log.Chill.Bands {
		text := fmt.Sprintf("%s to %s: %d:%02d of at most %d:%02d h", b.From.Show(), b.To.Show(), int(b.Took.Hours()), int(b.Took.Minutes())%60, int(b.Within.Hours()), int(b.Within.Minutes())%60)
		if !b.Reached {
			text += ", not reached"
		}
		out = append(out, text)
	}
	return out
}
