# Refus du climat, du développement, des bacs et des fichiers d’espèces. Le nom est la phrase anglaise.


## Étalonnage d’un capteur

a-calibration-point-needs-two-numbers-found-raw-and-true =
    Un point d’étalonnage est fait de deux nombres ; trouvé : { $raw } et { $true }
an-offset-needs-at-least-one-point-what-the-sensor-said-and-what-was-true =
    Un décalage demande au moins un point : ce que le capteur disait et ce qui était vrai
a-two-point-calibration-needs-two-points-found-count-with-one-use-an-offset =
    Un étalonnage à deux points demande deux points, et non { $count } ; avec un seul, utiliser un décalage
the-two-true-values-are-spread-g-apart-allowed-least-g-or-more-for-quantity-points-so-near-to-one-another-cannot-give-a-slope-use-an-offset-instead =
    Les deux valeurs vraies sont à { $spread } l’une de l’autre ; permis : { $least } ou plus pour { $quantity }. Des points si proches ne donnent pas de pente ; utiliser un décalage
the-sensor-said-raw-g-at-both-points-it-does-not-respond-or-a-typing-mistake =
    Le capteur disait { $raw } aux deux points : il ne réagit pas, ou c’est une faute de frappe
the-two-points-give-a-slope-of-slope-3g-allowed-low-g-to-high-g-check-that-the-points-are-not-swapped-and-the-jars-not-mixed-up-else-the-sensor-is-worn-out =
    Les deux points donnent une pente de { $slope } ; permis : { $low } à { $high }. Vérifier que les points ne sont pas inversés ni les bocaux confondus ; sinon le capteur est usé
salt-is-salt-r-allowed-known =
    Le sel est « { $salt } » ; permis : { $known }
temperature-of-the-salt-jar-is-temperature-g-c-allowed-low-g-to-high-g-c =
    La température du bocal de { $salt } est { $temperature } °C ; permis : { $low } à { $high } °C


## Étalonnage d’une sonde d’humidité

the-probe-says-the-same-in-air-and-in-water-it-is-broken-or-was-not-dipped =
    La sonde dit la même chose dans l’air et dans l’eau ; elle est en panne ou n’a pas été plongée
the-probe-does-not-rise-with-moisture-check-the-points-the-wiring-and-the-packing =
    La sonde ne monte pas avec l’humidité ; vérifier les points, le câblage et le tassement
count-points-were-given-a-calibration-needs-fewest-or-more =
    { $count } points donnés ; un étalonnage en demande { $fewest } ou plus
a-point-is-no-number-or-its-moisture-is-not-between-0-and-1-correct-it =
    Un point n’est pas un nombre ou son humidité n’est pas entre 0 et 1 ; le corriger
the-points-span-span-2f-in-moisture-take-drier-and-wetter-ones-at-least-least-2f-apart =
    Les points couvrent { $span } d’humidité ; en prendre de plus secs et de plus humides, distants d’au moins { $least }


## Un bac et son journal

what-is-value-g-unit-allowed-low-g-to-high-g-unit-correct-the-entry =
    { $what } : { $value } { $unit } ; permis : { $low } à { $high } { $unit } ; corriger la saisie
the-bin-is-looked-at-before-it-was-filled-give-a-later-time =
    le bac est regardé avant d’être rempli ; donner une heure plus tardive
ratio = (rapport)
days = jours
the-surface-of-the-bin = la surface du bac
the-mass-at-filling = la masse au remplissage
the-moisture-at-filling = l’humidité au remplissage
the-doubt-about-the-moisture-at-filling = le doute sur l’humidité au remplissage
the-depth-of-the-probe = la profondeur de la sonde
the-number-of-larvae = le nombre de larves
the-age-of-the-larvae = l’âge des larves
the-first-mass-of-a-larva = la masse d’une larve au début
the-last-mass-of-a-larva = la masse d’une larve à la fin
the-days-of-growth = la durée de croissance
the-larvae-taken-out = les larves retirées
the-residue-taken-out = le résidu retiré
the-water-added = l’eau ajoutée
the-feed-added = la nourriture ajoutée
the-moisture-of-the-feed = l’humidité de la nourriture
the-mass-weighed = la masse pesée
the-doubt-about-the-scale = le doute sur la balance
the-moisture-tested = l’humidité mesurée
the-doubt-about-the-test = le doute sur la mesure
the-mark = le repère
nothing-was-put-together-give-the-mass-of-at-least-one-material =
    Rien n’a été mélangé ; donner la masse d’au moins une matière
no-usable-reading-of-air-temperature-and-humidity-was-found-for-this-bin =
    Aucune mesure utilisable de la température et de l’humidité de l’air n’a été trouvée pour ce bac
a-climate-series-needs-as-many-temperatures-and-humidities-as-it-has-times =
    Une série de climat demande autant de températures et d’humidités que d’instants
the-times-of-a-climate-series-must-ascend-each-later-than-the-one-before =
    Les instants d’une série de climat doivent se suivre, chacun après le précédent


## Développement

a-temperature-series-needs-as-many-temperatures-and-marks-as-it-has-times =
    Une série de températures demande autant de températures et de marques que d’instants
a-temperature-series-needs-at-least-one-reading =
    Une série de températures demande au moins une mesure
the-times-of-a-temperature-series-must-ascend-each-later-than-the-one-before =
    Les instants d’une série de températures doivent se suivre, chacun après le précédent
a-temperature-series-holds-a-value-that-is-not-a-number-leave-failed-readings-out =
    Une série de températures contient une valeur qui n’est pas un nombre ; en retirer les mesures ratées
the-upper-threshold-upper-g-c-must-lie-above-the-lower-threshold-lower-g-c =
    Le seuil supérieur { $upper } °C doit dépasser le seuil inférieur { $lower } °C
upper-threshold-c-is-upper-g-and-must-lie-above-threshold-c-lower-g =
    upper_threshold_c vaut { $upper } et doit dépasser threshold_c ({ $lower })
a-rate-that-falls-in-great-heat-needs-an-upper-threshold-and-the-horizontal-cutoff =
    Une vitesse qui baisse par grande chaleur demande un seuil supérieur et la coupure horizontale
the-rate-falls-from-start-g-c-to-zero-at-end-g-c-the-two-must-rise-from-the-upper-threshold-upper-g-c-on =
    La vitesse baisse de { $start } °C jusqu’à zéro à { $end } °C ; les deux doivent monter, à partir du seuil supérieur de { $upper } °C
falls-from-c-is-start-g-and-must-lie-below-maximum-c-end-g =
    falls_from_c vaut { $start } et doit être sous maximum_c ({ $end })
heat-the-hours-in-which-half-of-the-animals-die-hours-g-and-heat-z-c-z-g-must-be-above-0-and-heat-log-sd-sd-g-not-below-0 =
    Chaleur : les heures où la moitié des animaux meurt ({ $hours }) et heat_z_c ({ $z }) doivent dépasser 0, et heat_log_sd ({ $sd }) ne pas être sous 0
stage-stage-thermal-constant-constant-g-must-be-above-0-and-its-log-sd-sd-g-not-below-0 =
    Stade { $stage } : la constante thermique { $constant } doit dépasser 0 et son écart-type logarithmique { $sd } ne pas être sous 0
species-has-no-stage-stage-its-stages-are-known =
    { $species } n’a pas de stade { $stage } ; ses stades sont { $known }
how-sure-the-day-is-must-be-above-0-days-not-days-g-half-a-day-is-usual =
    L’incertitude sur le jour doit dépasser 0 jour, et non { $days } ; un demi-jour est habituel
count-g-counted-flies-are-too-few-to-say-how-far-a-cohort-spreads-least-g-are-needed =
    { $count } mouches comptées ne suffisent pas pour dire combien un lot s’étale ; il en faut { $least }
cohort-cohort-lives-nowhere-give-it-a-place =
    Le lot { $cohort } ne vit nulle part ; lui donner un lieu
cohort-cohort-its-moves-must-be-in-the-order-of-time =
    Lot { $cohort } : ses déplacements doivent être dans l’ordre du temps
cohort-cohort-start-progress-is-progress-g-allowed-0-up-to-1 =
    Lot { $cohort } : start_progress vaut { $progress } ; permis : de 0 à moins de 1
cohort-cohort-has-no-place-at-that-time =
    Le lot { $cohort } n’a pas de lieu à ce moment


## Fichiers d’espèces et de substrats

write-the-name-of-one-of-these-files-in-site-species = écrire le nom d’un de ces fichiers dans [site] species
write-one-of-these-names = écrire un de ces noms
write-one-of-these-or-leave-it-out = écrire un de ceux-ci, ou l’omettre
correct-this-key-in-the-species-file = corriger cette clé dans le fichier de l’espèce
correct-this-key-in-the-substrate-file = corriger cette clé dans le fichier du substrat
mend-the-line-that-is-named = corriger la ligne nommée
not-toml-reason = pas du TOML : { $reason }

## what papers state of stages: conditions, and why our numbers lie elsewhere

mixed-waste-lies-between-this-and-the-22-24-d-on-grain-at-27-c =
    Les déchets mêlés se placent entre ceci et les 22-24 j sur céréales à 27 °C.
three-artificial-diets-on-grain =
    trois aliments artificiels à base de céréales
mixed-waste-lies-between-this-and-the-18-d-at-28-c-of-another-study-the-window-holds-both =
    Les déchets mêlés se placent entre ceci et les 18 j à 28 °C d’une autre étude ; la fenêtre tient les deux.
twelve-diets-of-brewery-grain-yeast-and-molasses =
    douze aliments de drêches, levure et mélasse
the-constant-is-the-published-one-of-another-study-on-grain-333-51-degree-days-its-error-alone-is-3-d =
    La constante est celle, publiée, d’une autre étude sur drêches, 333 ± 51 degrés-jours ; son erreur seule fait 3 j.
the-constant-is-the-published-one-on-grain-with-yeast-alone-250-25-degree-days-the-fastest-of-such-diets =
    La constante est celle, publiée, des drêches avec levure seules, 250 ± 25 degrés-jours, le plus rapide de ces aliments.
eight-days-would-make-the-whole-cycle-on-grain-longer-than-the-40-43-d-measured-at-a-stated-27-c-and-this-source-states-no-temperature-at-25-c-ours-takes-8-8-d-the-window-holds-the-range =
    Huit jours rendraient le cycle entier sur drêches plus long que les 40-43 j mesurés à 27 °C, température dite, et cette source ne dit aucune température : à 25 °C le nôtre prend 8,8 j. La fenêtre tient l’étendue.
no-prepupa-is-told-apart-there-ours-is-as-long-as-the-whole-cycle-at-27-c-asks-and-the-window-holds-the-range =
    La prépupe n’y est pas distinguée. Le nôtre est aussi long que le demande le cycle entier à 27 °C, et la fenêtre tient l’étendue.
larvae-4-6-d-old-at-first-on-grain-the-time-follows-from-4-d-being-11 =
    larves de 4-6 j au départ, sur céréales ; la durée suit de ce que 4 j font 11 %
the-whole-cycle-of-40-43-d-at-27-c-from-the-same-laboratory-2002-leaves-31-to-34-d-from-that-age-on-the-two-do-not-fit-together-the-one-that-was-measured-outranks-the-one-that-is-derived =
    Le cycle entier de 40-43 j à 27 °C du même laboratoire (2002) laisse 31 à 34 j dès cet âge. Les deux ne vont pas ensemble ; ce qui fut mesuré passe avant ce qui est déduit.
outdoor-cages-mating-from-27-29-c-up =
    cages en plein air ; accouplement dès 27-29 °C
flies-with-water =
    mouches avec eau
the-papers-conflict-3-5-d-in-several-7-14-d-in-two-of-one-group-the-median-stays-with-the-several-and-the-window-is-skewed-towards-the-others =
    Les publications se contredisent : 3-5 j dans plusieurs, 7-14 j dans deux d’un même groupe. La médiane reste avec les premières, et la fenêtre penche vers les autres.
flies-with-sugar =
    mouches avec sucre
a-model-not-a-measurement =
    un modèle, pas une mesure
that-model-has-no-upper-threshold-ours-earns-no-more-above-32-c-than-at-32 =
    Ce modèle n’a pas de seuil supérieur ; le nôtre ne gagne pas plus au-dessus de 32 °C qu’à 32.
the-straight-line-of-the-same-abstract-does-not-pass-through-each-of-its-points =
    La droite du même résumé ne passe pas par chacun de ses points.
half-of-them-hatch-later-than-the-first =
    la moitié éclot après les premiers
the-larvae-put-in = les larves mises
the-waste-reduction = la réduction des déchets
what-the-larvae-gained = ce que les larves ont gagné
what-was-eaten = ce qui a été mangé
the-number-counted = le nombre compté
the-number-of-flies = le nombre de mouches
the-number-of-females = le nombre de femelles
the-number-boxed = le nombre mis en boîte
the-eggs = les œufs
the-eggs-in-a-gram = les œufs dans un gramme
the-share = la part
the-mass-of-an-egg = la masse d’un œuf
these-figures-count-different-things-wet-or-dry-they-cannot-be-compared-compare-wet-with-wet-and-dry-with-dry =
    Ces chiffres comptent des choses différentes (frais ou sec) et ne se comparent pas ; comparer frais avec frais et sec avec sec
