package port

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// holders names the programs that have path open, as far as this user may see. The
// program at a pseudo-terminal's other end isn't among them: that has another name.
func holders(path string) string {
	fds, err := filepath.Glob("/proc/[0-9]*/fd/*")
	if err != nil {
		return ""
	}
	var found []string
	for _, fd := range fds {
		if target, err := os.Readlink(fd); err != nil || target != path {
			continue
		}
		pid := strings.Split(fd, "/")[2]
		who := "process " + pid
		if name, err := os.ReadFile("/proc/" + pid + "/comm"); err == nil {
			who = fmt.Sprintf("%s (process %s)", strings.TrimSpace(string(name)), pid)
		}
		if pid == strconv.Itoa(os.Getpid()) {
			who = "this program itself"
		}
		if !slices.Contains(found, who) {
			found = append(found, who)
		}
	}
	return strings.Join(found, " and ")
}

// deniedRemedy names the group that owns the device.
func deniedRemedy(path string) string {
	return "add yourself to the group that owns it (usually dialout: sudo usermod -aG dialout $USER) and log in again; ls -l " + path + " shows the group"
}
