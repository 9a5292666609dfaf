"""The languages in which people read the pages, and how their texts are kept (catalogues in each app's `locale/`)."""
