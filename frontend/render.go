package frontend

import (
	"bytes"
	"errors"
	"fmt"
	"html/template"
	"io"
	"io/fs"
	"reflect"
	"sync"

	"github.com/labstack/echo/v4"
)

// A Renderer writes pages. It does not change after NewRenderer and may be used by
// many requests at once.
type Renderer struct {
	cfg    Config
	static *static
	pages  map[string]parsed
}

type parsed struct {
	tmpl *template.Template
	data reflect.Type
}

// parsedSite is what does not change while a program runs.
type parsedSite struct {
	static *static
	pages  map[string]parsed
}

// embedded is the site in the program itself, parsed when the first asks for it.
var embedded = sync.OnceValues(func() (*parsedSite, error) { return parseSite(files, Pages()) })

// NewRenderer takes the pages of the program. An error means that a template is broken or
// does not belong to a registered page: the program should not start.
func NewRenderer(cfg Config) (*Renderer, error) {
	site, err := embedded()
	if err != nil {
		return nil, err
	}
	return site.renderer(cfg)
}

func (site *parsedSite) renderer(cfg Config) (*Renderer, error) {
	if cfg.Loc == nil || cfg.Now == nil {
		return nil, errors.New("frontend: the config names no zone or no clock")
	}
	if cfg.Lang == "" {
		cfg.Lang = "en"
	}
	return &Renderer{cfg: cfg, static: site.static, pages: site.pages}, nil
}

// parseSite takes layouts, parts and static files from the embedded files and the pages
// themselves from pageFS.
func parseSite(pageFS fs.FS, pages map[string]Page) (*parsedSite, error) {
	st, err := newStatic(files)
	if err != nil {
		return nil, err
	}
	r := &parsedSite{static: st, pages: map[string]parsed{}}
	fm := funcs(st)
	for name, p := range pages {
		if err := checkData(p); err != nil {
			return nil, fmt.Errorf("frontend: page %q: %w", name, err)
		}
		t, err := parsePage(fm, pageFS, name, p.Kind)
		if err == nil {
			err = escape(t)
		}
		if err != nil {
			return nil, fmt.Errorf("frontend: page %q: %w", name, err)
		}
		r.pages[name] = parsed{t, reflect.TypeOf(p.Data)}
	}
	onDisk, err := fs.Glob(pageFS, "templates/*.html")
	if err != nil {
		return nil, err
	}
	for _, f := range onDisk {
		if _, ok := pages[pageName(f)]; !ok {
			return nil, fmt.Errorf("frontend: %s belongs to no registered page", f)
		}
	}
	return r, nil
}

func pageName(file string) string {
	return file[len("templates/") : len(file)-len(".html")]
}

func checkData(p Page) error {
	t := reflect.TypeOf(p.Data)
	if t == nil || t.Kind() != reflect.Struct {
		return fmt.Errorf("its data is %v, not a struct", t)
	}
	want := reflect.TypeFor[Layout]()
	if p.Kind == Paper {
		want = reflect.TypeFor[Sheet]()
	}
	if f, ok := t.FieldByName(want.Name()); !ok || !f.Anonymous || f.Type != want {
		return fmt.Errorf("%v does not embed %s", t, want.Name())
	}
	return nil
}

func parsePage(fm template.FuncMap, pageFS fs.FS, name string, kind Kind) (*template.Template, error) {
	layout := string(kind) + ".html"
	t, err := template.New(layout).Funcs(fm).ParseFS(files, "templates/layout/"+layout, "templates/parts/*.html")
	if err != nil {
		return nil, err
	}
	if t, err = t.ParseFS(pageFS, "templates/"+name+".html"); err != nil {
		return nil, err
	}
	if t.Lookup("main") == nil {
		return nil, errors.New(`the template defines no "main"`)
	}
	return t, nil
}

// escape makes the template safe now. Left alone, that happens on first execution;
// it comes before any data is looked at, so none is needed.
func escape(t *template.Template) error {
	var unsafe *template.Error
	if err := t.Execute(io.Discard, nil); errors.As(err, &unsafe) {
		return err
	}
	return nil
}

// Render writes a page, whole or not at all. data is the page's registered struct
// or a pointer to it. Pages are not stored by browsers or between them and the shop
// (they name people) unless the handler has set Cache-Control.
func (r *Renderer) Render(c echo.Context, status int, page string, data any) error {
	b, err := r.Bytes(page, data)
	if err != nil {
		return err
	}
	h := c.Response().Header()
	if h.Get(echo.HeaderCacheControl) == "" {
		h.Set(echo.HeaderCacheControl, "no-store")
	}
	return c.HTMLBlob(status, b)
}

// Bytes returns a page as it would be sent, for pages kept in memory.
func (r *Renderer) Bytes(page string, data any) ([]byte, error) {
	p, ok := r.pages[page]
	if !ok {
		return nil, fmt.Errorf("frontend: no page %q", page)
	}
	if t := reflect.TypeOf(data); t != p.data && t != reflect.PointerTo(p.data) {
		return nil, fmt.Errorf("frontend: page %q takes %v, not %v", page, p.data, t)
	}
	var buf bytes.Buffer
	if err := p.tmpl.Execute(&buf, data); err != nil {
		return nil, fmt.Errorf("frontend: page %q: %w", page, err)
	}
	return buf.Bytes(), nil
}
