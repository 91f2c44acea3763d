"""Tests of the index: journals into the store."""
