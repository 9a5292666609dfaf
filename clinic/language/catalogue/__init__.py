"""The texts of the code and their translations: one folder `locale/` an app, worked on by `manage.py words`.

Babel does what gettext's own programmes would: they are not on a fresh machine, and pages need neither. What pages
read (`django.mo`, and `clinic/static/clinic/words/<language>.js` for scripts) is kept with the code, so that nothing
has to be made before the first start; a test holds it to the `.po` files that people write.
"""
