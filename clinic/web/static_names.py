"""Names of static files that carry the digest of their content, inside ES modules too.

A module imports others by name: without the digest in that name a browser could mix two versions for a while after an
upgrade.
"""

from django.contrib.staticfiles.storage import ManifestStaticFilesStorage


class HashedNames(ManifestStaticFilesStorage):
    """Django's own storage with its rewriting of `import` and `export` turned on."""

    support_js_module_import_aggregation = True
    # A name changes with the names of what it imports: one pass for each link of the longest chain, which is 12 now.
    max_post_process_passes = 30
