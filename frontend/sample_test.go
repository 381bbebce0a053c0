package frontend

import (
	"fmt"
	"io/fs"
	"net/http"
	"net/url"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"flitchbook/planner/unit"

	"github.com/labstack/echo/v4"
)

// The sample pages show every part of the frame with the invented shop's data, so
// that its look can be judged before and beside the real pages.

type seasonSample struct {
	Layout
	Holiday unit.Day
	Classes []classSample
}
type classSample struct {
	Name   string
	Starts unit.Instant
	Price  unit.Money
	Ready  unit.Day
	Left   int
}
type bookSample struct {
	Layout
	Form                Form
	Starts, HeldTo      unit.Instant
	Left                int
	Total               unit.Money
	Seats, Picks, Needs []Choice
}
type todaySample struct {
	Layout
	Day  unit.Day
	Rows []arrivalSample
}
type arrivalSample struct {
	Party, Class, Needs, Tags string
	Balance                   unit.Money
}
type benchSample struct {
	Layout
	Form              Form
	Result, Text, Tag string
}
type weighSample struct {
	Layout
	Form              Form
	Salt, Sugar, Cure unit.Weight
	Skin              []Choice
}
type sheetSample struct {
	Sheet
	Rows []kitSample
}
type kitSample struct {
	Tag, Name, Spice         string
	Seat                     int
	Green, Salt, Sugar, Cure unit.Weight
}

var samplePages = map[string]Page{
	"season_sample": {Public, seasonSample{}},
	"book_sample":   {Public, bookSample{}},
	"today_sample":  {Shop, todaySample{}},
	"bench_sample":  {Shop, benchSample{}},
	"weigh_sample":  {Shop, weighSample{}},
	"sheet_sample":  {Paper, sheetSample{}},
}

func sampleRenderer(t *testing.T) *Renderer {
	t.Helper()
	cfg := testConfig()
	cfg.Demo = true
	cfg.Actor = func(c echo.Context) Actor {
		switch {
		case strings.HasPrefix(c.Path(), "/staff/bench"):
			return Actor{"Tobias", Staff}
		case strings.HasPrefix(c.Path(), "/staff/"):
			return Actor{"Odile", Owner}
		}
		return Actor{}
	}
	cfg.Flash = func(c echo.Context) string {
		if c.Path() == "/staff/today" {
			return "The door list was sent to the printer."
		}
		return ""
	}
	pages := map[string]Page{}
	for name, p := range samplePages {
		pages[name] = p
	}
	for name, p := range errorPages {
		pages[name] = p
	}
	r, err := parsedRenderer(cfg, mergedPages{}, pages)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func sampleSite(t *testing.T) http.Handler {
	t.Helper()
	r := sampleRenderer(t)
	e := echo.New()
	e.Use(func(next echo.HandlerFunc) echo.HandlerFunc {
		return func(c echo.Context) error {
			c.Response().Header().Set(echo.HeaderContentSecurityPolicy, "default-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'")
			c.Response().Header().Set(echo.HeaderXRequestID, "7f3a90c1")
			return next(c)
		}
	})
	r.Static(e)
	day := func(m time.Month, d int) unit.Day { return unit.DayOf(2026, m, d) }
	e.GET("/", func(c echo.Context) error {
		return r.Render(c, 200, "season_sample", seasonSample{Layout: r.Layout(c, "Classes"), Holiday: day(11, 26), Classes: []classSample{
			{"Bacon class", day(10, 24).At(13, 0, chicago), 10500, day(11, 7), 2},
			{"Pig clinic with dinner", day(10, 29).At(18, 0, chicago), 16500, day(10, 29), 4},
			{"Bacon class", day(11, 7).At(13, 0, chicago), 10500, day(11, 21), 0},
		}})
	})
	book := func(c echo.Context, f Form, status int) error {
		f.Once = "c0ffee"
		left := 1200
		if c.QueryParam("left") != "" {
			left, _ = strconv.Atoi(c.QueryParam("left"))
		}
		return r.Render(c, status, "book_sample", bookSample{
			Layout: r.Layout(c, "Book seats"), Form: f, Starts: day(11, 7).At(13, 0, chicago), HeldTo: day(10, 8).At(15, 50, chicago), Left: left, Total: 19000,
			Seats: []Choice{{Value: "1", Label: "1"}, {Value: "2", Label: "2"}, {Value: "3", Label: "3"}},
			Picks: []Choice{{Value: "PB", Label: "Pepper"}, {Value: "MC", Label: "Maple and chili"}, {Value: "SC", Label: "Sesame and coriander", Hint: "Not on the table that day.", Off: true}},
			Needs: []Choice{{Value: "none", Label: "None"}, {Value: "wheat", Label: "Wheat"}, {Value: "mustard", Label: "Mustard"}},
		})
	}
	e.GET("/book", func(c echo.Context) error { return book(c, Form{}, 200) })
	e.POST("/book", func(c echo.Context) error {
		v, err := c.FormParams()
		if err != nil {
			return err
		}
		f := Form{Values: v}
		if !strings.Contains(v.Get("email"), "@") {
			f.Fail("email", "This is no e-mail address. It needs an @, as in nerys@example.test.")
		}
		if v.Get("pick") == "" {
			f.Fail("pick", "Choose a spice, or rub it plain.")
		}
		return book(c, f, http.StatusUnprocessableEntity)
	})
	e.GET("/staff/today", func(c echo.Context) error {
		return r.Render(c, 200, "today_sample", todaySample{Layout: r.Layout(c, "Today"), Day: day(11, 7), Rows: []arrivalSample{
			{"Tamsin, party of 2", "B5, 13:00", "none", "B5-01 B5-02", 0},
			{"Saoirse", "B5, 13:00", "", "B5-06", 0},
			{"Cordelia, party of 6", "D3, 18:00", "wheat, sesame (severe)", "", 59400},
		}})
	})
	bench := func(c echo.Context, p benchSample, status int) error {
		p.Layout, p.Form.Once = r.Layout(c, "Onto the shelf"), fmt.Sprintf("once-%s-%d", p.Tag, status)
		return r.Render(c, status, "bench_sample", p)
	}
	e.GET("/staff/bench", func(c echo.Context) error { return bench(c, benchSample{}, 200) })
	e.POST("/staff/bench", func(c echo.Context) error {
		switch tag := c.FormValue("tag"); tag {
		case "B4-03":
			return bench(c, benchSample{Result: "right", Text: "Right: B4-03 is on C2.", Tag: tag}, 200)
		case "down":
			return r.ErrorPage(c, 500, "", "")
		case "cut":
			panic(http.ErrAbortHandler) // the signal is gone before the answer
		default:
			return bench(c, benchSample{Result: "wrong", Text: "Wrong: " + tag + " is on hold since Sun 04:15.", Form: Form{Values: url.Values{"tag": {tag}}}}, 409)
		}
	})
	e.GET("/staff/bench/weigh", func(c echo.Context) error {
		f := Form{Values: url.Values{"cure": {"5"}}}
		f.Fail("cure", "5 reads as whole grams. Write one decimal, from the 0.1 g scale: 5.0.")
		return r.Render(c, 422, "weigh_sample", weighSample{Layout: r.Layout(c, "Weigh"), Form: f,
			Salt: 43 * unit.Gram, Sugar: 22 * unit.Gram, Cure: 4900 * unit.Milligram,
			Skin: []Choice{{Value: "off", Label: "Skin off"}, {Value: "on", Label: "Skin on"}}})
	})
	e.GET("/sheet", func(c echo.Context) error {
		p := sheetSample{Sheet: Sheet{Layout: r.Layout(c, "Kit list B1"), Version: "version 3", Large: c.QueryParam("large") != "", Wide: c.QueryString() != ""}}
		names := []string{"Brigid", "Aoife", "Ruaridh", "Petra", "Marguerite", "Friedel", "Linus", "Imke", "Raoul", "Hedda", "Ottilie", "(demo)"}
		for i := range 36 { // three times the class, to fill more than one sheet
			p.Rows = append(p.Rows, kitSample{fmt.Sprintf("B1-%02d", i+1), names[i%12], "PB 14 g", i%12 + 1,
				unit.WeightOfPounds(4.60), 41 * unit.Gram, 21 * unit.Gram, 4700 * unit.Milligram})
		}
		return r.Render(c, 200, "sheet_sample", p)
	})
	for path, status := range map[string]int{"/lost": 404, "/staff/taken": 409, "/slow": 429, "/broken": 500} {
		e.GET(path, func(c echo.Context) error { return r.ErrorPage(c, status, "", "") })
	}
	return e
}

// TestSamplePages executes the samples like TestEveryPage does the real ones.
func TestSamplePages(t *testing.T) {
	r := sampleRenderer(t)
	for name, p := range samplePages {
		for _, full := range []bool{true, false} {
			b, err := r.Bytes(name, fill(p.Data, full))
			if err != nil {
				t.Errorf("%s, full %v: %v", name, full, err)
			}
			for _, bad := range inline(string(b)) {
				t.Errorf("%s: inline or foreign %q", name, bad)
			}
		}
	}
}

// mergedPages finds a page among the samples or the frame's own.
type mergedPages struct{}

func (mergedPages) Open(name string) (fs.File, error) {
	if f, err := os.DirFS("testdata").Open(name); err == nil {
		return f, nil
	}
	return files.Open(name)
}
