"""Both stores, as the tests of the store have them."""

from __future__ import annotations

from tests.store.conftest import fresh_url, kind, server, shared_database, site, store, url

__all__ = ["fresh_url", "kind", "server", "shared_database", "site", "store", "url"]
