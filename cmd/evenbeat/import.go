package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"evenbeat/analysis/train"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

func newImportCmd(a *app) *cobra.Command {
	var what string
	c := &cobra.Command{
		Use:   "import FILE",
		Short: "Read rows into the book from CSV or JSON: all of them or none",
		Long: fmt.Sprintf(`Read rows of the kind that export writes into the book. Extra columns are
ignored. Rows that name a clock go to it. What is in the book already isn't added again.
If a row is bad, its number is given and nothing is imported. A file may be up to %d MiB,
or %d MiB for beats as CSV. The file's name may end in .gz.

--what all of a file that export --what all wrote brings the clock with its whole record,
as book merge would, and with the same figures. Such a file may be of any size. Close the
book everywhere else first.`, mostRows>>20, mostBeats>>20),
		Example: `  evenbeat import --what checks checks.csv
  evenbeat import --what air shed.json`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			i := &importing{app: a, name: args[0]}
			err := i.run(c.Context(), what)
			if err != nil && !i.done {
				return fmt.Errorf("%w: nothing was imported", err)
			}
			return err
		},
	}
	a.clockFlag(c)
	c.Flags().StringVar(&what, "what", "", "which rows: `"+strings.Join(tables, "|")+"|all`")
	return c
}

// importing is the import of one file.
type importing struct {
	*app
	name  string
	done  bool  // the rows are in the book
	ahead int64 // rows whose times lie ahead
}

func (i *importing) run(ctx context.Context, what string) (err error) {
	kinds := []string{what}
	if what == "all" {
		kinds = tables
	} else if !slices.Contains(tables, what) {
		return badCall("--what %q is not known: use %s or all", what, strings.Join(tables, ", "))
	}
	isJSON := rowsExt(i.name) == ".json"
	if what == "all" && !isJSON {
		return badCall("--what all: CSV holds one kind of row: name it, or give a .json")
	}
	if what == "beats" && !isJSON {
		return i.beats(ctx)
	}
	file, err := i.read(ctx, kinds, isJSON)
	if file.path != "" {
		defer func() { err = errors.Join(err, book.RemoveBook(file.path)) }()
	}
	if err != nil {
		return err
	}
	if file.path != "" {
		return i.bring(ctx, file)
	}
	if i.clock == "" && !i.hasBook() {
		// Bad rows are told before a book is made.
		if _, err := i.take(file, kinds, i.owners(nil).of); err != nil {
			return err
		}
	}
	return i.into(ctx, func(whose owners) (book.Incoming, error) { return i.take(file, kinds, whose.of) })
}

// read reads a file's rows by their kind, which a JSON file names itself.
func (i *importing) read(ctx context.Context, kinds []string, isJSON bool) (file rowFile, err error) {
	err = i.withInput(i.name, func(in io.Reader) error {
		var err error
		if isJSON {
			file, err = readJSON(in, kinds, i.whole(ctx, kinds))
		} else {
			var c *csvRows
			if c, err = openCSV(in, mostRows, rowColumns[kinds[0]].must...); err == nil {
				file.rows = map[string][]row{}
				file.rows[kinds[0]], err = c.all()
			}
		}
		if err == nil && file.path == "" && !slices.ContainsFunc(kinds, func(kind string) bool { _, ok := file.rows[kind]; return ok }) {
			err = fmt.Errorf("holds no %s", strings.Join(kinds, " or "))
		}
		return i.wrong(err)
	})
	return file, err
}

// wrong names the file of what is wrong in it. What the book or the disk refused is not.
func (i *importing) wrong(err error) error {
	if err == nil {
		return nil
	}
	if e, ok := errors.AsType[*book.Error](err); ok && !e.CallersFault() {
		return err
	}
	return badCall("%s: %w", i.name, err)
}

// into opens the book and brings in what gather returns.
func (i *importing) into(ctx context.Context, gather func(owners) (book.Incoming, error)) error {
	// A clock that is named must exist, and so must its book.
	return i.withBook(ctx, i.recording(), func(b *book.Book) error {
		all, err := b.Clocks(ctx)
		if err != nil {
			return err
		}
		whose := i.owners(all)
		if whose.chosen, whose.unchosen = i.chooseClock(ctx, b); whose.unchosen != nil && i.clock != "" {
			return whose.unchosen
		}
		rows, err := gather(whose)
		if err != nil {
			return err
		}
		n, err := b.Import(ctx, rows)
		if bad, ok := errors.AsType[*rowError](err); ok {
			return i.wrong(bad)
		}
		if err != nil {
			return err
		}
		i.done = true
		i.tell(n, strings.Join(slices.Sorted(maps.Keys(whose.used)), ", "), rows.Clock.Name)
		return nil
	})
}

// tell says what became of the rows.
func (i *importing) tell(n book.Imported, clocks, made string) {
	switch {
	case n.New == 0 && n.Known == 0:
		i.say("%s: there are no rows: nothing was imported.\n", i.name)
	case n.New == 0:
		i.say("%s: every row is in the book already (%s): nothing was imported.\n", clocks, rowsText(n.Known))
	case n.Known > 0:
		i.say("%s: %s imported; %s in the book already.\n", clocks, rowsText(n.New), rowsText(n.Known))
	default:
		i.say("%s: %s imported.\n", clocks, rowsText(n.New))
	}
	if i.ahead > 0 && n.New > 0 {
		i.say("Warning: the times of %s are ahead of this computer's clock; they are kept as given.\n", rowsText(i.ahead))
	}
	if made != "" && n.New > 0 {
		i.say("The book held no clock yet: this is kept under %s.\n", made)
	}
}

func rowsText(n int64) string {
	return fmt.Sprintf("%d %s", n, quantity.Plural(n, "row", "rows"))
}

// owners tells whose a row is.
type owners struct {
	*app
	clocks   []sessions.Clock
	chosen   sessions.Clock // of the rows that name none
	unchosen error          // why there is no such clock
	used     map[string]bool
}

func (i *importing) owners(clocks []sessions.Clock) owners {
	return owners{app: i.app, clocks: clocks, used: map[string]bool{}}
}

// of returns the clock of a row that names a clock, "" for none. In a book without any
// clock it is one that is still to be made, whose number is 0.
func (o owners) of(name string) (sessions.Clock, error) {
	c, err := o.find(name)
	if err == nil {
		o.used[c.Name] = true
	}
	return c, err
}

func (o owners) find(name string) (sessions.Clock, error) {
	switch {
	case len(o.clocks) == 0:
		return o.fresh(name)
	case name == "":
		return o.chosen, o.unchosen
	case o.clock != "" && !strings.EqualFold(name, o.chosen.Name):
		return sessions.Clock{}, fmt.Errorf("it is of the clock %q, and --clock names %s: leave --clock out", name, o.chosen.Name)
	}
	for _, c := range o.clocks {
		if strings.EqualFold(c.Name, name) {
			return c, nil
		}
	}
	return sessions.Clock{}, fmt.Errorf("it is of the clock %q, which the book doesn't hold: add it with evenbeat clock add", name)
}

// fresh returns the clock that a book without any gets.
func (o owners) fresh(name string) (sessions.Clock, error) {
	if name == "" {
		name = benchClock
	}
	if len(o.used) > 0 && !o.used[name] {
		return sessions.Clock{}, fmt.Errorf("it is of the clock %q, others are not, and the book holds none yet: add them with evenbeat clock add", name)
	}
	return newClock(name), quantity.CheckName("clock", name)
}

// benchClock is the clock of a book in which nobody has added one.
const benchClock = "Bench"

func newClock(name string) sessions.Clock {
	return sessions.Clock{Name: name, BeatsPerTooth: train.UsualBeatsPerTooth, HourArbor: train.UsualHourArbor}
}
