// Package spring reckons what a mainspring does in its barrel.
package spring
