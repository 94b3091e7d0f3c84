package configs

import (
	"path/filepath"
	"strings"
)

// environ is an environment as NAME=value. If a name is given twice, the last counts.
type environ []string

// get returns the variable's value. An empty one counts as not set.
func (e environ) get(name string) string {
	for i := len(e) - 1; i >= 0; i-- {
		if k, v, ok := strings.Cut(e[i], "="); ok && k == name {
			return v
		}
	}
	return ""
}

// home returns the user's own folder, which ~ stands for.
func (e environ) home(system string) string {
	if system == "windows" {
		return e.get("USERPROFILE")
	}
	return e.get("HOME")
}

// folders returns where the system keeps a user's settings and data; "" if the environment
// doesn't say. On Linux and the like that follows the XDG base directory specification, 0.8,
// by which a relative path is ignored.
func folders(system string, env environ) (config, data string) {
	under := func(base string, more ...string) string {
		if base == "" {
			return ""
		}
		return filepath.Join(append([]string{base}, more...)...)
	}
	home := env.home(system)
	switch system {
	case "windows":
		return under(env.get("APPDATA"), "evenbeat"), under(env.get("LOCALAPPDATA"), "evenbeat")
	case "darwin":
		both := under(home, "Library", "Application Support", "evenbeat")
		return both, both
	}
	config, data = under(home, ".config"), under(home, ".local", "share")
	if x := env.get("XDG_CONFIG_HOME"); filepath.IsAbs(x) {
		config = x
	}
	if x := env.get("XDG_DATA_HOME"); filepath.IsAbs(x) {
		data = x
	}
	return under(config, "evenbeat"), under(data, "evenbeat")
}
