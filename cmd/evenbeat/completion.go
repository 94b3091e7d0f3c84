package main

import (
	"cmp"
	"context"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"evenbeat/configs"
	"evenbeat/plots"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
	"evenbeat/sessions/plan"
)

// source finds the words that may stand in one place of a call.
type source func(context.Context) []string

// completeAll teaches c and all its commands what may stand in their flags and
// arguments, for the shell to offer.
func (a *app) completeAll(c *cobra.Command) {
	byFlag := map[string]source{
		"clock": a.clockNames, "part": a.partNames, "session": a.timingNumbers, "plan": a.planNames,
		"profile": a.profileNames, "reference-profile": a.profileNames, "air-profile": a.profileNames, "caliper": a.profileNames,
		"port": a.portNames("auto", "-"), "reference": a.portNames(), "air": a.portNames("auto"),
		"kind": func(context.Context) []string { return sessions.EventKinds() },
	}
	offer := func(f *pflag.Flag) {
		placeholder, _ := pflag.UnquoteUsage(f)
		find := byFlag[f.Name]
		switch {
		case find != nil:
		case strings.Contains(placeholder, "|"):
			find = choices(placeholder)
		case placeholder == "FILE" || placeholder == "DIRECTORY":
			return // the shell's own
		default:
			find = func(context.Context) []string { return nil }
		}
		_ = c.RegisterFlagCompletionFunc(f.Name, a.offered(find)) // it fails only for a flag that isn't there
	}
	c.LocalNonPersistentFlags().VisitAll(offer)
	c.PersistentFlags().VisitAll(offer)
	if c.ValidArgsFunction == nil {
		a.completeArgs(c)
	}
	for _, sub := range c.Commands() {
		a.completeAll(sub)
	}
}

// completeArgs teaches c what its arguments may be, by how its use is written.
func (a *app) completeArgs(c *cobra.Command) {
	byWord := map[string]source{"KIND": func(context.Context) []string { return plots.Kinds() }, "PORT": a.portNames()}
	if c.CommandPath() == "evenbeat clock use" {
		byWord["NAME"] = a.clockNames
	}
	uses := strings.Fields(c.Use)[1:]
	c.ValidArgsFunction = func(c *cobra.Command, args []string, typed string) ([]string, cobra.ShellCompDirective) {
		if len(args) >= len(uses) {
			return nil, cobra.ShellCompDirectiveNoFileComp
		}
		word := strings.Trim(uses[len(args)], "[]")
		switch find := byWord[word]; {
		case find != nil:
			return a.offered(find)(c, args, typed)
		case word == "N" && args[0] == "session":
			return a.offered(a.sessionNumbers)(c, args, typed)
		case strings.ToUpper(word) != word:
			return a.offered(choices(word))(c, args, typed)
		case word == "N" || word == "NAME":
			return nil, cobra.ShellCompDirectiveNoFileComp
		}
		return nil, cobra.ShellCompDirectiveDefault // a file
	}
}

// offered returns find in the form that the shell's question wants. What can't be found
// is not offered: a shell has no place for an error.
func (a *app) offered(find source) cobra.CompletionFunc {
	return func(c *cobra.Command, _ []string, typed string) ([]string, cobra.ShellCompDirective) {
		var fit []string
		if a.prepare(c) == nil {
			fit = slices.DeleteFunc(find(cmp.Or(c.Context(), context.Background())), func(s string) bool { return !strings.HasPrefix(s, typed) })
		}
		slices.Sort(fit)
		return slices.Compact(fit), cobra.ShellCompDirectiveNoFileComp
	}
}

// choices are the words of a list such as mm|in|both. One in capitals stands for
// others.
func choices(list string) source {
	return func(context.Context) []string {
		return slices.DeleteFunc(strings.Split(list, "|"), func(s string) bool { return strings.ToUpper(s) == s })
	}
}

func (a *app) portNames(besides ...string) source {
	return func(context.Context) []string {
		all, _ := a.bench().Ports() // what can't be listed is not offered
		names := slices.Clone(besides)
		for _, p := range all {
			names = append(names, p.Name)
		}
		return names
	}
}

func (a *app) planNames(context.Context) []string {
	all, _ := a.loaded.Plans() // prepare has read them
	return namesOf(all, func(p plan.Plan) string { return p.Name })
}

func (a *app) profileNames(context.Context) []string {
	all, _ := a.loaded.Profiles()
	return namesOf(all, func(p configs.Profile) string { return p.Name })
}

func namesOf[T any](all []T, nameOf func(T) string) []string {
	names := make([]string, len(all))
	for i, x := range all {
		names[i] = nameOf(x)
	}
	return names
}

func (a *app) clockNames(ctx context.Context) (names []string) {
	_ = a.withBook(ctx, reading, func(b *book.Book) error {
		all, err := b.Clocks(ctx)
		names = namesOf(all, func(c sessions.Clock) string { return c.Name })
		return err
	})
	return names
}

// partNames are those of the plans and of what was measured of the clock.
func (a *app) partNames(ctx context.Context) []string {
	all, _ := a.loaded.Plans()
	names := namesOf(all, func(p plan.Plan) string { return p.Part })
	_ = a.withClock(ctx, reading, func(b *book.Book, c sessions.Clock) error {
		rec, err := b.Record(ctx, c.ID, book.Readings)
		names = append(names, namesOf(rec.Readings, func(r sessions.Reading) string { return r.Part })...)
		return err
	})
	return names
}

func (a *app) sessionNumbers(ctx context.Context) []string { return a.numbers(ctx, "") }
func (a *app) timingNumbers(ctx context.Context) []string {
	return a.numbers(ctx, sessions.SessionTime)
}

// numbers are those of the clock's sessions of a kind, or of all.
func (a *app) numbers(ctx context.Context, kind string) (numbers []string) {
	_ = a.withClock(ctx, reading, func(b *book.Book, c sessions.Clock) error {
		rec, err := b.Record(ctx, c.ID, book.Sessions)
		for _, s := range rec.Sessions {
			if kind == "" || s.Kind == kind {
				numbers = append(numbers, strconv.FormatInt(s.ID, 10))
			}
		}
		return err
	})
	return numbers
}
