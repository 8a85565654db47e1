# Sentensi za makundi na mapipa.

name-has-ended-cohort-show-name-shows-what-became-of-it =
    { $name } limekwisha; `cohort show { $name }` inaonyesha lilivyokwisha
